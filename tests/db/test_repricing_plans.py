"""The big statements go through the rows in their order, whatever is in the tables."""

from __future__ import annotations

import pytest
from sqlalchemy import text

from api.db.repositories.listing_cases import counted
from api.db.repositories.repricing_bands import filling
from api.db.repositories.repricing_chunks import (
    readying_by_cases,
    readying_on_sqlite,
    slice_of_bands,
    slice_of_listings,
)
from tests.benchmarks.many_listings import fill, preview

BANDS = 2_000


def plan(storage, statement):
    """The steps that the database would take, in its words."""
    word = (
        "EXPLAIN QUERY PLAN" if storage.engine.dialect.name == "sqlite" else "EXPLAIN"
    )
    with storage.engine.connect() as connection:
        said = statement.compile(connection, compile_kwargs={"literal_binds": True})
        rows = connection.exec_driver_sql(f"{word} {said}".replace("%", "%%"))
        return [str(row[-1]).strip() for row in rows]


@pytest.fixture(params=["fresh", "known"])
def shop(any_storage, request):
    """A shop of some size; the planner knows its tables, or nothing yet."""
    fill(any_storage, BANDS)
    preview(any_storage, "first")
    if request.param == "known":
        with any_storage.engine.begin() as connection:
            connection.execute(text("ANALYZE"))
    return any_storage


def test_bands_are_read_through_and_look_up_their_case(shop):
    steps = plan(shop, filling(1))
    if shop.engine.dialect.name == "sqlite":
        assert steps[0] == "SCAN listing_bands"
        assert steps[1].startswith("SEARCH repricing_cases USING PRIMARY KEY")
    else:
        assert not any("listing_bands_spec" in step for step in steps)
        assert any(step.startswith("->  Seq Scan on listing_bands") for step in steps)


def test_cases_are_counted_in_one_pass(shop):
    steps = plan(shop, counted())
    if shop.engine.dialect.name == "sqlite":
        assert steps[0] == "SCAN listing_bands"
    else:
        assert not any("listing_bands_spec" in step for step in steps)


def test_a_chunk_of_sqlite_is_read_in_the_order_of_the_run(storage):
    fill(storage, BANDS)
    preview(storage, "first")
    steps = plan(storage, readying_on_sqlite(1, slice_of_bands(0, 400, 9)))
    by_key = "SEARCH repricing_bands USING PRIMARY KEY (run=? AND listing>"
    assert steps[0].startswith(by_key)
    assert not any("TEMP B-TREE" in step for step in steps)


def test_a_chunk_of_postgresql_looks_up_cases_and_not_rows(
    postgres_database, open_database
):
    shop = open_database(postgres_database)
    fill(shop, BANDS)
    preview(shop, "first")
    steps = plan(shop, readying_by_cases(1, slice_of_listings(0, 400, 9)))
    assert not any("repricing_bands" in step for step in steps)
    assert not any("listing_bands_spec" in step for step in steps)
