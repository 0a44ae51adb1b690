"""Databases of earlier programs, with rows in them, brought up to date."""

from __future__ import annotations

import shutil
from contextlib import closing
from dataclasses import replace
from datetime import UTC, date, datetime
from decimal import Decimal

import pytest
from sqlalchemy import inspect, text
from sqlalchemy.exc import IntegrityError

from api.db import open_storage, upgrade
from api.db.engine import make_engine
from api.db.tables import metadata
from api.db.upgrade import MIGRATIONS, newest_revision
from api.ports import Revisions, StorageUnavailable, StoredQuote

NOON = datetime(2026, 12, 1, 12, tzinfo=UTC)


@pytest.fixture
def engine(any_database):
    made = make_engine(any_database)
    yield made
    made.dispose()


@pytest.fixture
def up_to(tmp_path):
    """Folders of migrations that end with the one of a number."""

    def made(number):
        def later_ones(folder, names):
            del folder
            return [name for name in names if name[0].isdigit() and name[:4] > number]

        folder = tmp_path / f"up_to_{number}"
        shutil.copytree(MIGRATIONS, folder, ignore=later_ones)
        return folder

    return made


@pytest.fixture
def first(up_to):
    """A folder of migrations with the first one only."""
    return up_to("0001")


OLD_PRICE = (
    "INSERT INTO spot_prices (metal, price, currency, as_of, source, note, "
    "expires_at, entered_by) VALUES ('XAG', :price, 'EUR', '2026-12-01 12:00:00.5', "
    "'manual', 'kept', NULL, 'maker')"
)


def test_prices_of_the_first_schema_are_kept_exactly_and_accepted(
    any_database, engine, first
):
    upgrade(engine, migrations=first)
    prices = [27_500_000, 1, 999_999_999_999_999]
    with engine.begin() as connection:
        for price in prices:
            connection.execute(text(OLD_PRICE), {"price": price})
    done = upgrade(engine, now=NOON)
    assert (done.before, done.after) == ("0001", newest_revision())
    with closing(open_storage(any_database)) as storage:
        found = storage.read(
            lambda unit: unit.spots.history("XAG", limit=9, before=None)
        )
        added = storage.write(lambda unit: unit.spots.add(replace(found[0], id=0)))
        assert storage.revisions() == Revisions(*(0 for _ in Revisions._fields))
    assert [str(entry.price) for entry in found] == [
        "999999999.999999",
        "0.000001",
        "27.50",
    ]
    assert {(entry.status, entry.reasons, entry.decided_at) for entry in found} == {
        ("accepted", (), None)
    }
    assert all(entry.recorded_at == entry.as_of for entry in found)
    assert [entry.id for entry in found] == [3, 2, 1]
    assert added.id == 4


def test_before_the_change_the_program_says_what_to_do(any_database, engine, first):
    upgrade(engine, migrations=first)
    with closing(open_storage(any_database)) as storage:
        assert not storage.readiness().schema
        for ask in (
            storage.revisions,
            lambda: storage.read(lambda unit: unit.revisions.all()),
        ):
            with pytest.raises(StorageUnavailable, match="fineweight db upgrade"):
                ask()


# Written down as they were, so that no later change of the program changes them.
ROWS_OF_0002 = (
    (
        "INSERT INTO price_book_versions VALUES "
        "(1, '{\"title\":\"Ö\"}', '2025-12-01 12:00:00', 'maker', 'first')"
    ),
    "INSERT INTO coins VALUES ('mine', '{}', 3, '2025-12-01 12:00:00')",
    (
        "INSERT INTO spot_prices VALUES (7, 'XAG', 27500000001, 'EUR', "
        "'2025-12-01 12:00:00.5', 'manual', 'note', NULL, 'maker', 'held', "
        "'2025-12-01 12:00:01', '[]', '', NULL)"
    ),
    "INSERT INTO feeds VALUES ('assay', '{}', 1, '2025-12-01 12:00:00')",
    "INSERT INTO feed_secrets VALUES ('assay', 'X-Key', 's')",
    (
        "INSERT INTO feed_fetches VALUES "
        "(5, 'assay', '2025-12-01 12:00:00', 'held', '[]', 7, 20)"
    ),
    (
        "INSERT INTO api_keys VALUES "
        "('k1', 'bench', 'Bench', 'ab', '2025-12-01 12:00:00', NULL, NULL)"
    ),
    "UPDATE revisions SET revision = 9 WHERE name = 'coins'",
)


def lay(engine, rows):
    """Write rows as they were written then."""
    with engine.begin() as connection:
        for statement in rows:
            connection.exec_driver_sql(statement)


def columns_of(engine):
    """The columns of every table, by its name."""
    found = inspect(engine)
    return {
        name: [column["name"] for column in found.get_columns(name)]
        for name in set(found.get_table_names()) - {"alembic_version"}
    }


def contents(engine, columns):
    """Every row of some tables, of each the columns that are named."""
    with engine.connect() as connection:
        return {
            name: set(
                map(
                    tuple,
                    connection.exec_driver_sql(
                        f"SELECT {', '.join(named)} FROM {name}"  # noqa: S608
                    ),
                )
            )
            for name, named in columns.items()
        }


def test_every_row_of_the_second_schema_is_kept(engine, up_to):
    upgrade(engine, migrations=up_to("0002"))
    columns = columns_of(engine)
    lay(engine, ROWS_OF_0002)
    before = contents(engine, columns)
    assert all(before.values())
    done = upgrade(engine, now=NOON)
    assert (done.before, done.after) == ("0002", newest_revision())
    after = contents(engine, columns)
    assert {name for name in before if not before[name] <= after[name]} == set()
    grown = {name for name in before if before[name] != after[name]}
    assert grown <= {"revisions"}  # a counter for each new part


OLD_QUOTE = StoredQuote(
    seq=17,
    id="an id",
    number="2025-0017",
    status="renewed",
    version=2,
    created_at=datetime(2025, 12, 1, 12, 0, 0, 500_000, tzinfo=UTC),
    created_by="k1",
    valid_until=datetime(2025, 12, 8, 23, tzinfo=UTC),
    decided_at=datetime(2025, 12, 9, tzinfo=UTC),
    decided_by="k2",
    reason="",
    currency="TND",
    total=Decimal("239.125"),
    tax=Decimal("39.83"),
    deposit=None,
    book_version=1,
    bench_hours=Decimal("2.25"),
    make_by=date(2025, 12, 24),
    renews=None,
    sheet_token="a token",
    customer_note="Für Ä.",
    document='{"format":1}',
)
NEW_QUOTE = replace(
    OLD_QUOTE,
    seq=18,
    id="another",
    number="2025-0018",
    status="open",
    version=1,
    decided_at=None,
    decided_by="",
    deposit=Decimal("119.50"),
    make_by=None,
    renews="an id",
    sheet_token="another",
    customer_note="",
)
ROWS_OF_0003 = (
    ROWS_OF_0002[0],
    (
        "INSERT INTO quotes VALUES (17, 'an id', '2025-0017', 'renewed', 2, "
        "'2025-12-01 12:00:00.5', 'k1', '2025-12-08 23:00:00', '2025-12-09 00:00:00', "
        "'k2', '', 'TND', 2391250, 398300, NULL, 1, 2250000, '2025-12-24', NULL, "
        "'a token', 'Für Ä.', '{\"format\":1}', '2025-0017\nfür ä.')"
    ),
    (
        "INSERT INTO quotes VALUES (18, 'another', '2025-0018', 'open', 1, "
        "'2025-12-01 12:00:00.5', 'k1', '2025-12-08 23:00:00', NULL, "
        "'', '', 'TND', 2391250, 398300, 1195000, 1, 2250000, NULL, 'an id', "
        "'another', '', '{\"format\":1}', '2025-0018\n')"
    ),
    "INSERT INTO quote_numbers VALUES (2025, 18)",
)


def test_a_quote_of_the_third_schema_reads_the_same_and_stays_a_promise(
    any_database, engine, up_to
):
    upgrade(engine, migrations=up_to("0003"))
    lay(engine, ROWS_OF_0003)
    upgrade(engine, now=NOON)
    with closing(open_storage(any_database)) as storage:
        found = storage.read(
            lambda unit: (
                unit.quotes.by_number("2025-0017"),
                unit.quotes.get("another"),
            )
        )
        assert found == (OLD_QUOTE, NEW_QUOTE)
        assert storage.write(lambda unit: unit.quotes.next_number(2025)) == 19
    with (
        pytest.raises(IntegrityError, match="never changes"),
        engine.begin() as connection,
    ):
        connection.exec_driver_sql("UPDATE quotes SET total = 1 WHERE seq = 18")


ROWS_OF_0005 = (
    *ROWS_OF_0003,
    "INSERT INTO secrets VALUES ('cursors', 'hush')",
    (
        "INSERT INTO listings VALUES (7, 'ring-1', 'A ring', 'made_to_order', "
        "'morgan', 'own_shop', 'retail', '[]', false, true, NULL, 1, 3, "
        "'2026-12-01 12:00:00', '2026-12-01 12:00:00', 'k1', NULL, 'ring-1')"
    ),
)


ADDED = {
    "0006": {"signing_keys"},
    "0007": {"happenings", "hook_deliverer", "hook_messages", "hooks"},
    "0008": {
        *("job_attempts", "job_coins", "job_lines", "job_numbers", "job_stages"),
        *("jobs", "stage_timers"),
    },
    "0009": {"passphrases", "sessions", "sign_in_tries"},
}
"""The tables that each later schema brings."""


def test_each_later_part_comes_empty_and_changes_nothing_else(engine, up_to):
    upgrade(engine, migrations=up_to("0005"))
    lay(engine, ROWS_OF_0005)
    assert len(contents(engine, {"listings": ["sku"]})["listings"]) == 1
    for number, added in ADDED.items():
        columns = columns_of(engine)
        before = contents(engine, columns)
        upgrade(engine, now=NOON, migrations=up_to(number))
        assert contents(engine, columns) == before
        after = columns_of(engine)
        assert after.keys() - columns.keys() == added
        assert not any(contents(engine, {name: after[name] for name in added}).values())
    assert number == newest_revision()


def test_an_id_is_never_used_again_after_the_changes(sqlite_url, first):
    engine = make_engine(sqlite_url)
    upgrade(engine, migrations=first)
    upgrade(engine, now=NOON)
    with engine.connect() as connection:
        query = "SELECT name, sql FROM sqlite_master WHERE type = 'table'"
        made = dict(map(tuple, connection.execute(text(query))))
    engine.dispose()
    counted = {name for name, sql in made.items() if "AUTOINCREMENT" in sql}
    assert counted >= {"spot_prices", "feed_fetches", "quotes", "audit_entries"}
    assert counted == {
        table.name
        for table in metadata.sorted_tables
        if table.dialect_options["sqlite"]["autoincrement"]
    }
