"""What every storage keeps of repricings: runs and their bands, found again."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

import pytest
from sqlalchemy.exc import IntegrityError

from api.ports import BandFilter, Place
from tests.contract.shop import (
    SMALL,
    UP,
    apply,
    band,
    by_id,
    dearer,
    edit,
    listing,
    mixed,
    opened,
    preview,
    prices,
    remove,
    stock,
    undo,
)

FIVE = Decimal(5)
LARGE_A = Place("a", Decimal("9.75"))


@pytest.fixture
def shop(any_storage):
    return opened(any_storage)


def bands(storage, run, *, limit=99, past=None, newer=False, **wanted):
    return storage.read(
        lambda unit: unit.repricings.bands(
            run.seq, BandFilter(**wanted), limit=limit, past=past, newer=newer
        )
    )


def places(found):
    return [(each.sku, str(each.size_from)) for each in found]


def test_a_run_comes_back_as_it_was_made(shop):
    run = preview(shop, skus=("a", "b"))
    with_more = replace(run, id="other", counts={"raise": 2}, value_change=-UP)
    stored = shop.write(lambda unit: unit.repricings.add(with_more, []))
    assert stored == replace(with_more, seq=run.seq + 1)
    assert by_id(shop, stored) == stored
    assert by_id(shop, run) == run
    assert shop.read(lambda unit: unit.repricings.get("nobody")) is None
    with pytest.raises(IntegrityError):
        shop.write(lambda unit: unit.repricings.add(run, []))


def test_a_preview_changes_no_price_and_names_every_band(shop):
    stock(shop, listing("c", SMALL, locked=True))
    before = prices(shop)
    run = preview(shop)
    assert prices(shop) == before
    found = bands(shop, run)
    assert {(x.sku, str(x.size_from), str(x.size_to)): str(x.old_price)
            for x in found} == before  # fmt: skip
    assert all(each.new_price == each.old_price + UP for each in found)
    assert [(each.decision, each.moves) for each in found] == [
        *[("raise", True)] * 4,
        ("locked", False),
    ]
    assert {each.reason for each in found} == {"because"}


def test_a_run_over_some_listings_leaves_the_others(shop):
    before = prices(shop)
    run = preview(shop, skus=("b", "nobody"))
    assert {each.sku for each in bands(shop, run)} == {"b"}
    apply(shop, run)
    assert prices(shop) == dearer(before, "a")


def test_only_what_is_named_in_review_moves_and_what_is_blocked_or_held_never(shop):
    stock(shop, listing("c", band("5", "6", "70"), band("7", "8", "60")))
    stock(shop, listing("d", locked=True))
    before = prices(shop)
    run = preview(shop, mixed)
    named = (
        LARGE_A,
        Place("c", FIVE),
        Place("c", Decimal(7)),
        Place("d", Decimal("9.75")),
        Place("nobody", FIVE),
    )
    done = apply(shop, run, *named)
    assert done.named == tuple(sorted(named))
    changed = {where[:2] for where, price in prices(shop).items()
               if price != before[where]}  # fmt: skip
    assert changed == {("a", "5.00"), ("a", "9.75"), ("b", "5.00")}
    undo(shop, done)
    assert prices(shop) == before


def test_bands_come_in_pages_by_sku_and_size(shop):
    stock(shop, listing("B"), listing("Z"), listing("c", SMALL))
    run = preview(shop)
    whole = bands(shop, run)
    assert (
        places(whole)
        == [(sku, size) for sku in "BZabc" for size in ("5.00", "9.75")][:-1]
    )
    for limit in (1, 2, 3, 8, 9, 10):
        read, past = [], None
        while page := bands(shop, run, limit=limit, past=past):
            assert len(page) <= limit
            read += page
            past = Place(page[-1].sku, page[-1].size_from)
        assert tuple(read) == whole
        read, past = [], None
        while page := bands(shop, run, limit=limit, past=past, newer=True):
            read = [*page, *read]
            past = Place(page[0].sku, page[0].size_from)
        assert tuple(read) == whole
    assert bands(shop, run, past=Place("Za", FIVE))[0].sku == "a"


def test_bands_are_found_by_decision_and_sku(shop):
    stock(shop, listing("c", band("5", "6", "70"), band("7", "8", "60")))
    stock(shop, listing("d", locked=True))
    run = preview(shop, mixed)
    found = {
        each: places(bands(shop, run, decision=each))
        for each in ("hold", "raise", "review", "blocked", "locked", "lower")
    }
    assert found == {
        "hold": [("c", "5.00")],
        "raise": [("a", "5.00"), ("b", "5.00")],
        "review": [("a", "9.75"), ("b", "9.75")],
        "blocked": [("c", "7.00")],
        "locked": [("d", "5.00"), ("d", "9.75")],
        "lower": [],
    }  # fmt: skip
    counts = shop.read(lambda unit: unit.repricings.counts(run.seq))
    assert counts == {name: len(each) for name, each in found.items() if each}
    assert places(bands(shop, run, sku="b")) == [("b", "5.00"), ("b", "9.75")]
    assert places(bands(shop, run, sku="b", decision="review")) == [("b", "9.75")]
    assert places(bands(shop, run, decision="review", limit=1)) == [("a", "9.75")]
    assert places(
        bands(shop, run, decision="review", limit=1, past=LARGE_A)
    ) == [("b", "9.75")]  # fmt: skip
    assert bands(shop, run, sku="nobody") == ()
    [blocked] = bands(shop, run, decision="blocked")
    assert (blocked.new_price, blocked.moves) == (None, False)


def test_a_runs_bands_are_told_after_their_listing_has_gone(shop):
    run = preview(shop)
    told = bands(shop, run)
    remove(shop, "a")
    edit(shop, "b", bands=(band("1", "2", "50"),))
    stock(shop, listing("a", band("3", "4", "50")))
    assert bands(shop, run) == told
    assert places(bands(shop, run, sku="a")) == [("a", "5.00"), ("a", "9.75")]


def test_the_bands_at_some_places_are_told(shop):
    run = preview(shop)
    wanted = [LARGE_A, Place("b", FIVE), Place("b", Decimal(6)), Place("c", FIVE)]
    found = shop.read(lambda unit: unit.repricings.at_places(run.seq, wanted))
    assert {*found} == {LARGE_A, Place("b", FIVE)}
    assert found[LARGE_A] == bands(shop, run)[1]


def test_runs_come_in_pages_newest_first(shop):
    made = [preview(shop) for _ in range(4)]
    done = apply(shop, made[1])

    def page(status=None, *, limit=9, past=None, newer=False):
        found = shop.read(
            lambda unit: unit.repricings.page(
                status, limit=limit, past=past, newer=newer
            )
        )
        return [each.seq - made[0].seq for each in found]

    assert page() == [3, 2, 1, 0]
    assert page(limit=2) == [3, 2]
    assert page(limit=2, past=made[2].seq) == [1, 0]
    assert page(limit=1, past=made[1].seq, newer=True) == [2]
    assert page("preview") == [3, 2, 0]
    assert page("applied") == [1]
    assert shop.read(lambda unit: unit.repricings.last_applied()) == done
    undo(shop, done)
    assert shop.read(lambda unit: unit.repricings.last_applied()) is None


def test_the_last_applied_run_is_by_time_and_not_by_making(shop):
    early, late = preview(shop, skus=("a",)), preview(shop, skus=("b",))
    apply(shop, late)
    done = apply(shop, early)
    assert shop.read(lambda unit: unit.repricings.last_applied()) == done
