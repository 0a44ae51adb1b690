"""A shop of any size, made by the database itself; and one repricing of it."""

from __future__ import annotations

import time
from collections.abc import Callable
from datetime import UTC, datetime
from decimal import Decimal

from sqlalchemy import text

from api.db import SqlStorage
from api.ports import (
    BookVersion,
    Deed,
    Repricing,
    RepricingCase,
    StoredBook,
    UnitOfWork,
)
from api.services.repricings.pace import MANY_WRITERS, ONE_WRITER

PACES = {"sqlite": ONE_WRITER, "postgresql": MANY_WRITERS}

SPECS = 5_000
BANDS_EACH = 4
NOON = datetime(2026, 12, 1, 12, tzinfo=UTC)
STEP = Decimal("5.00")
NUMBERS = {
    "sqlite": (
        "WITH RECURSIVE n(i) AS "
        "(SELECT 1 UNION ALL SELECT i + 1 FROM n WHERE i < {count}) "
    ),
    "postgresql": "WITH n(i) AS (SELECT generate_series(1, {count})) ",
}
LISTINGS = """INSERT INTO listings (sku, title, kind, coin, channel, policy, extras,
    locked, published, revision, changed_rev, created_at, changed_at,
    changed_by, search)
{numbers} SELECT 'ring-' || i, 'A ring', 'made_to_order', 'morgan', 'own_shop',
    'retail', '[]', {no}, {no}, 1, 0, '2026-12-01 12:00:00', '2026-12-01 12:00:00',
    'maker', 'ring' FROM n"""
SPEC_ROWS = """INSERT INTO listing_specs
    (coin, channel, policy, extras, size_from, size_to)
{numbers} SELECT 'coin-' || i, 'own_shop', 'retail', '[]', 500, 950 FROM n"""
# A spec by a number that jumps about, as neighbours in a shop seldom share one.
BANDS = """INSERT INTO listing_bands (listing, spec, locked, price)
{numbers} SELECT (i - 1) / {each} + 1, CAST(i AS BIGINT) * 7919 % {specs} + 1, {no},
    600000 + CAST(i AS BIGINT) * 7919 % {specs} * 100 FROM n"""


def fill(storage: SqlStorage, count: int) -> None:
    """Put so many bands into an empty database [count]."""
    about = BookVersion(version=1, created_at=NOON, by="maker")
    storage.write(lambda unit: unit.books.add(StoredBook(about=about, document="{}")))
    name = storage.engine.dialect.name
    no = "0" if name == "sqlite" else "false"
    with storage.engine.begin() as connection:
        for statement, rows in (
            (LISTINGS, -(-count // BANDS_EACH)),
            (SPEC_ROWS, SPECS),
            (BANDS, count),
        ):
            numbers = NUMBERS[name].format(count=rows)
            said = statement.format(
                numbers=numbers, no=no, each=BANDS_EACH, specs=SPECS
            )
            connection.execute(text(said))
        connection.execute(text("ANALYZE"))


def preview(storage: SqlStorage, name: str) -> Repricing:
    """A stored preview that raises every price."""
    rev = storage.revisions().listings
    used = storage.read(lambda unit: unit.listings.cases_in_use())
    cases = [
        RepricingCase(
            spec=case.spec.id,
            old_price=case.price,
            new_price=case.price + STEP,
            old_margin=Decimal("0.19"),
            new_margin=Decimal("0.23"),
            decision="raise",
            reason="the margin at today's spot is 19 %, under the floor of 20 %",
            spot_at_floor=Decimal("26.75"),
        )
        for case in used
    ]
    made = Repricing(
        id=name,
        created_at=NOON,
        created_by="maker",
        currency="EUR",
        spot="{}",
        spot_price=Decimal("27.50"),
        book_version=1,
        listings_rev=rev,
    )

    def work(unit: UnitOfWork) -> Repricing:
        run = unit.repricings.add(made, cases)
        filled = unit.repricings.fill_bands(run.seq)
        if filled != sum(case.bands for case in used):
            raise RuntimeError(f"{filled} bands")
        return run

    return storage.write(work)


def apply(
    storage: SqlStorage, run: Repricing, bands: int, *, rest: bool = True
) -> Repricing:
    """The run of so many bands [count] in force, step by step as the service does it.

    With or without its rests.
    """
    pace = PACES[storage.engine.dialect.name]

    def chunk(unit: UnitOfWork, after: int, size: int) -> int | None:
        return unit.repricings.apply_chunk(run.seq, after=after, size=size, at=NOON)

    def begin(unit: UnitOfWork, deed: Deed) -> Repricing | None:
        if bands <= pace.at_once:
            return unit.repricings.apply_at_once(run, (), deed=deed)
        return unit.repricings.begin(run, (), deed=deed)

    begun = _switched(storage, begin)
    if begun.status == "applied":
        return begun
    after: int | None = 0
    while after is not None:
        after = storage.write(lambda unit, a=after: chunk(unit, a, pace.size))
        time.sleep(pace.pause_s if rest else 0)
    return _switched(
        storage, lambda unit, deed: unit.repricings.switch(begun, deed=deed)
    )


def undo(storage: SqlStorage, run: Repricing) -> Repricing:
    """The prices before the run in force again."""
    if storage.read(lambda unit: unit.repricings.touched_since(run.seq, limit=1)):
        raise RuntimeError("touched")
    return _switched(storage, lambda unit, deed: unit.repricings.undo(run, deed=deed))


def _switched(
    storage: SqlStorage, work: Callable[[UnitOfWork, Deed], Repricing | None]
) -> Repricing:
    def switching(unit: UnitOfWork) -> Repricing | None:
        rev = unit.revisions.bump("listings") or 0
        return work(unit, Deed(by="maker", at=NOON, rev=rev))

    done = storage.write(switching)
    if done is None:
        raise RuntimeError("not switched")
    return done
