"""Previews of many bands: filled in parts, seen by nobody before they are whole."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from decimal import Decimal

import pytest
from sqlalchemy import text

from api.ports import BandFilter
from tests.contract.quoting import NOON
from tests.contract.shop import (
    apply,
    band,
    by_id,
    dearer,
    listing,
    opened,
    plus,
    preview,
    prices,
    stock,
)

LATER = NOON + timedelta(minutes=1)
TABLES = {"repricings": "seq", "repricing_cases": "run", "repricing_bands": "run"}


@pytest.fixture
def shop(any_storage):
    storage = opened(any_storage)
    stock(storage, *(listing(f"c{n}", band("5", "6", f"7{n}")) for n in range(3)))
    return storage


def begin(storage):
    """A run that is being filled, with nothing in it yet."""
    run = replace(preview(storage), id="unseen")
    used = storage.read(lambda unit: unit.listings.cases_in_use())
    cases = [plus(each) for each in used]
    return storage.write(lambda unit: unit.repricings.begin_filling(run, cases))


def fill(storage, run, after=0, size=2):
    return storage.write(
        lambda unit: unit.repricings.fill_chunk(
            run.seq, after=after, size=size, at=LATER
        )
    )


def fill_whole(storage, run):
    """Fill it to the end; how many bands each part had."""
    after, parts = 0, []
    while (chunk := fill(storage, run, after)) is not None:
        parts.append(chunk.bands)
        after = chunk.reached
    return parts


def end(storage, run):
    return storage.write(lambda unit: unit.repricings.end_filling(run))


def drop(storage, run, size=2):
    """Drop it; in how many parts."""
    for parts in range(1, 99):
        if not storage.write(lambda u: u.repricings.drop_chunk(run.seq, size=size)):
            return parts
    raise AssertionError


def rows(storage, seq):
    """How many rows of each table belong to a run."""
    with storage.engine.connect() as connection:
        return [
            connection.execute(
                text(f"SELECT count(*) FROM {name} WHERE {key} = {seq}")  # noqa: S608
            ).scalar_one()
            for name, key in TABLES.items()
        ]


def seen(storage):
    """Ids of all the runs that are found in any way."""

    def look(unit):
        runs, asked = unit.repricings, {"limit": 9, "past": None}
        pages = [*runs.page(None, **asked), *runs.page("preview", **asked)]
        one = [runs.get("unseen"), runs.applying(), runs.last_applied()]
        return {each.id for each in [*pages, *one] if each is not None}

    return storage.read(look)


def bands(storage, run):
    asked = {"limit": 99, "past": None}
    return [
        (each.sku, each.size_from, each.old_price, each.new_price, each.decision)
        for each in storage.read(
            lambda unit: unit.repricings.bands(run.seq, BandFilter(), **asked)
        )
    ]


def test_it_is_seen_by_nobody_until_it_is_whole(shop):
    before = prices(shop)
    run = begin(shop)
    others = seen(shop)
    assert "unseen" not in others
    assert fill_whole(shop, run) == [2, 2, 2, 1]
    assert seen(shop) == others
    assert prices(shop) == before
    assert end(shop, run) == replace(run, reached=0, reached_at=None)
    assert seen(shop) == others | {"unseen"}
    assert prices(shop) == before


def test_filled_in_parts_it_is_the_same_as_filled_at_once(shop):
    run = begin(shop)
    at_once = shop.read(lambda u: u.repricings.page("preview", limit=1, past=None))[0]
    fill_whole(shop, run)
    whole = end(shop, run)
    assert bands(shop, whole) == bands(shop, at_once)
    before = prices(shop)
    apply(shop, whole)
    assert prices(shop) == dearer(before)


def test_what_is_seen_already_is_not_filled_or_dropped(shop):
    run = end(shop, begin(shop))
    assert fill(shop, run) is None
    assert end(shop, run) is None
    had = rows(shop, run.seq)
    assert drop(shop, run) == 1
    assert rows(shop, run.seq) == had


@pytest.mark.parametrize("parts", [0, 1, 4])
def test_what_is_left_of_one_is_dropped_in_parts(shop, parts):
    run, after = begin(shop), 0
    for _ in range(parts):
        after = fill(shop, run, after).reached
    assert rows(shop, run.seq)[0] == 1
    assert drop(shop, run) == parts + 1
    assert rows(shop, run.seq) == [0, 0, 0]
    assert fill(shop, run, after) is None
    assert end(shop, run) is None


def test_one_that_shows_signs_of_life_is_not_left_behind(shop):
    run = begin(shop)

    def left(moment):
        return shop.read(lambda unit: unit.repricings.left_behind(moment))

    assert left(NOON) == ()
    assert left(LATER) == (run.seq,)
    fill(shop, run)
    assert left(LATER) == ()
    assert left(LATER + timedelta(seconds=1)) == (run.seq,)
    end(shop, run)
    assert left(LATER + timedelta(days=1)) == ()


def test_a_part_that_is_cut_short_leaves_nothing_of_itself(shop):
    run = begin(shop)
    first = fill(shop, run)

    def cut_short(unit):
        unit.repricings.fill_chunk(run.seq, after=first.reached, size=2, at=LATER)
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        shop.write(cut_short)
    assert rows(shop, run.seq)[2] == 2
    assert by_id(shop, run) is None
    assert fill(shop, run, first.reached).bands == 2


def test_cases_keep_every_figure(shop):
    run = begin(shop)
    told = {
        "old_margin": Decimal("-0.1234"), "new_margin": Decimal("0.3"),
        "spot_at_floor": Decimal("31.123456789"), "reason": "a 'b' \"c\" {d} \\ é",
    }  # fmt: skip
    used = shop.read(lambda unit: unit.listings.cases_in_use())
    cases = [plus(each)._replace(**told) for each in used]
    drop(shop, run)
    run = shop.write(
        lambda u: u.repricings.begin_filling(replace(run, id="more"), cases)
    )
    fill_whole(shop, run)
    run = end(shop, run)
    asked = {"limit": 99, "past": None}
    found = shop.read(lambda u: u.repricings.bands(run.seq, BandFilter(), **asked))
    assert {(x.old_margin, x.new_margin, x.spot_at_floor, x.reason) for x in found} == {
        tuple(told.values())
    }
    with pytest.raises(ValueError, match="decimal places"):
        shop.write(
            lambda u: u.repricings.begin_filling(
                replace(run, id="most"),
                [cases[0]._replace(new_margin=Decimal("1e-7"))],
            )
        )
