"""Rows on their way between databases, and the checksums that hold them together."""

from __future__ import annotations

import pytest
from sqlalchemy import text, update

from api.db import copying
from api.db.copying import (
    MARGIN,
    contents,
    copy_rows,
    counters,
    last_ids,
    last_numbers,
    raise_counters,
    raise_last_ids,
    raise_last_numbers,
)
from api.db.tables import metadata
from tests.db.filling import EAST, LARGE, ROWS, add, entry, fill

NO_ROWS = "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855"
IDS = {
    "audit_entries",
    "feed_fetches",
    "happenings",
    "hook_messages",
    "hooks",
    "jobs",
    "listing_bands",
    "listing_specs",
    "listings",
    "price_changes",
    "quotes",
    "repricings",
    "sign_in_tries",
    "spot_prices",
}
QUOTES, JOBS = "quote_numbers", "job_numbers"
KEPT = {(QUOTES, 2026): 3, (QUOTES, 1999): 1, (JOBS, 2026): 7}


def told(storage, **how):
    with storage.engine.connect() as connection:
        return contents(connection, "x", **how)


@pytest.fixture
def full(any_storage):
    fill(any_storage.engine)
    return any_storage


def test_every_table_is_told_of_but_the_counters(any_storage):
    found = told(any_storage)
    assert {each.name for each in found.tables} == metadata.tables.keys() - {
        "job_numbers",
        "quote_numbers",
        "revisions",
    }
    assert {(each.rows, each.sha256) for each in found.tables} == {(0, NO_ROWS)}
    assert found.schema == "x"
    assert found.newest is None


def test_every_table_has_rows_in_these_tests(full):
    rows = {each.name: each.rows for each in told(full).tables}
    counted = {name: len(rows) for name, rows in ROWS.items()}
    assert counted.pop("quote_numbers")
    assert counted.pop("job_numbers")
    assert rows == counted


def test_the_newest_is_what_was_recorded_last_and_no_time_ahead(full):
    far = entry(5, at=EAST.replace(hour=0))
    add(full.engine, "audit_entries", far)
    assert told(full).newest == EAST


def test_rows_are_counted_without_being_read(full):
    found = told(full, checksums=False)
    assert {each.sha256 for each in found.tables} == {""}
    assert [each.rows for each in found.tables] == [
        each.rows for each in told(full).tables
    ]


def test_both_databases_give_equal_rows_equal_checksums(
    sqlite_url, postgres_database, open_database
):
    found = []
    for database in (sqlite_url, postgres_database):
        storage = open_database(database)
        fill(storage.engine)
        found.append(told(storage))
    assert found[0] == found[1]
    assert NO_ROWS not in {each.sha256 for each in found[0].tables}


CHANGES = (
    ("coins", "document", "{} "),
    ("coins", "revision", 1),
    ("api_keys", "last_used_at", None),
    ("api_keys", "last_used_at", EAST.replace(microsecond=999998)),
    ("spot_prices", "price", ROWS["spot_prices"][0]["price"]),
    ("feed_fetches", "entry_id", 1),
)


def test_one_other_value_is_another_checksum_of_its_table(full):
    before = told(full).tables
    for table, column, value in CHANGES:
        with full.engine.connect() as connection:
            change = update(metadata.tables[table]).values({column: value})
            connection.execute(change)
            after = contents(connection, "x").tables
        other = {was.name for was, now in zip(before, after, strict=True) if was != now}
        assert other == {table}


def test_the_size_of_the_batches_does_not_matter(full, monkeypatch):
    before = told(full)
    monkeypatch.setattr(copying, "BATCH", 2)
    assert told(full) == before


def test_all_rows_are_copied_whichever_way(full, tmp_path, open_database, monkeypatch):
    monkeypatch.setattr(copying, "BATCH", 2)
    other = open_database(str(tmp_path / "other.sqlite3"))
    with full.engine.connect() as source, other.engine.begin() as target:
        target.execute(text("DELETE FROM revisions"))
        copy_rows(source, target)
        assert counters(source) == counters(target)
        assert last_numbers(source) == last_numbers(target) == KEPT
    assert told(full) == told(other)


def test_the_last_ids_are_those_handed_out_not_those_kept(any_storage):
    with any_storage.engine.connect() as connection:
        assert last_ids(connection) == dict.fromkeys(IDS, 0)
    add(any_storage.engine, "feed_fetches", *next_fetches(2))
    with any_storage.engine.begin() as connection:
        connection.execute(text("DELETE FROM feed_fetches"))
    with any_storage.engine.connect() as connection:
        assert last_ids(connection)["feed_fetches"] == 2


def next_fetches(count):
    row = {name: v for name, v in ROWS["feed_fetches"][1].items() if name != "id"}
    return [row] * count


def next_id(storage):
    add(storage.engine, "feed_fetches", *next_fetches(1))
    query = text("SELECT max(id) FROM feed_fetches")
    with storage.engine.connect() as connection:
        return connection.execute(query).scalar_one()


def test_ids_go_on_above_what_was_ever_used(full):
    for least, following in (
        ({}, 4),
        ({"feed_fetches": 2}, 5),
        ({"feed_fetches": 9}, 10),
    ):
        with full.engine.begin() as connection:
            raise_last_ids(connection, least)
            assert last_ids(connection)["spot_prices"] == LARGE
        assert next_id(full) == following


def test_ids_are_raised_in_the_transaction_and_not_beside_it(any_storage):
    with any_storage.engine.connect() as connection:
        raise_last_ids(connection, {"feed_fetches": 99})
        connection.rollback()
    with any_storage.engine.begin() as connection:
        raise_last_ids(connection, {})
    assert next_id(any_storage) == 1


def test_counters_end_above_what_they_were_here_and_there(any_storage):
    with any_storage.engine.begin() as connection:
        before = counters(connection) | {"coins": 7}
        connection.execute(
            text("UPDATE revisions SET revision = 7 WHERE name = 'coins'")
        )
        raise_counters(connection, {"coins": 3, "keys": 50_000, "unheard": 1})
        after = counters(connection)
    assert after == {name: count + MARGIN for name, count in before.items()} | {
        "keys": 50_000 + MARGIN
    }


@pytest.mark.parametrize(
    ("least", "after"),
    [
        ({}, {}),
        ({(QUOTES, 2026): 2, (QUOTES, 1999): 4}, {(QUOTES, 1999): 4}),
        ({(QUOTES, 2027): 1, (JOBS, 2026): 9}, {(QUOTES, 2027): 1, (JOBS, 2026): 9}),
    ],
)
def test_numbers_go_on_above_what_was_handed_out_here_and_there(full, least, after):
    with full.engine.begin() as connection:
        raise_last_numbers(connection, least)
        assert last_numbers(connection) == KEPT | after


def test_where_nothing_has_a_number_there_is_none_to_raise(any_storage):
    with any_storage.engine.begin() as connection:
        raise_last_numbers(connection, {})
        assert last_numbers(connection) == {}
