"""Repricings and their bands, page by page in both directions."""

from __future__ import annotations

from decimal import Decimal

import pytest

from api.ports import BandFilter, Place
from pricing.errors import InvalidInput

BAND = ("5", "5.5")


@pytest.fixture
def runs(shop):
    """Five runs, newest first; the middle one is applied."""
    shop.list(shop.listing("A", (*BAND, "140.00")))
    made = [shop.repricings.preview() for _ in range(5)][::-1]
    made[2] = shop.applied(made[2])
    return made


def ids(page):
    return [run.id for run in page.runs]


def test_runs_come_newest_first_and_forth_and_back(shop, runs):
    page = shop.repricings.page(limit=2)
    assert ids(page) == [run.id for run in runs[:2]]
    assert (page.newer, page.older) == (False, True)
    page = shop.repricings.page(limit=2, past=runs[1].seq)
    assert ids(page) == [run.id for run in runs[2:4]]
    assert (page.newer, page.older) == (True, True)
    page = shop.repricings.page(limit=2, past=runs[3].seq)
    assert (ids(page), page.older) == ([runs[4].id], False)
    page = shop.repricings.page(limit=2, past=runs[3].seq, newer=True)
    assert ids(page) == [run.id for run in runs[1:3]]
    assert (page.newer, page.older) == (True, True)
    page = shop.repricings.page(limit=4, past=runs[2].seq, newer=True)
    assert (ids(page), page.newer) == ([run.id for run in runs[:2]], False)


def test_runs_of_one_status_alone(shop, runs):
    assert ids(shop.repricings.page("applied", limit=9)) == [runs[2].id]
    assert len(shop.repricings.page("preview", limit=9).runs) == 4
    assert shop.repricings.page("undone", limit=9).runs == ()


@pytest.fixture
def run(shop):
    """A preview with seven bands of four listings."""
    shop.list(
        *(
            shop.listing(sku, (*BAND, "140.00"), ("10", "10", "152.00"))
            for sku in ("b", "A", "a")
        ),
        shop.listing("c", ("2", "3", "140.00")),
    )
    return shop.repricings.preview()


PLACES = [("A", 5), ("A", 10), ("a", 5), ("a", 10), ("b", 5), ("b", 10), ("c", 2)]


def _place(sku, size):
    return Place(sku, Decimal(size))


def places(page):
    return [(band.sku, band.size_from) for band in page.bands]


def test_bands_come_by_sku_and_size_and_forth_and_back(shop, run):
    def page(past=None, **more):
        mark = None if past is None else _place(*PLACES[past])
        return shop.repricings.bands(run, BandFilter(), limit=3, past=mark, **more)

    first = page()
    assert places(first) == PLACES[:3]
    assert (first.before, first.after) == (False, True)
    second = page(2)
    assert places(second) == PLACES[3:6]
    assert (second.before, second.after) == (True, True)
    last = page(5)
    assert (places(last), last.after) == (PLACES[6:], False)
    back = page(5, before=True)
    assert places(back) == PLACES[2:5]
    assert (back.before, back.after) == (True, True)
    begin = page(2, before=True)
    assert (places(begin), begin.before) == (PLACES[:2], False)


def test_bands_of_one_decision_or_listing_alone(shop, run):
    def found(**wanted):
        return places(shop.repricings.bands(run, BandFilter(**wanted), limit=100))

    raised = found(decision="raise")
    held = found(decision="hold")
    assert sorted(raised + held) == sorted(PLACES)
    assert found(sku="a") == [("a", 5), ("a", 10)]
    assert found(sku="a", decision="blocked") == []
    assert ("c", 2) in raised


@pytest.mark.parametrize("limit", [0, 101])
def test_a_page_holds_one_to_a_hundred(shop, run, limit):
    with pytest.raises(InvalidInput, match="1 to 100"):
        shop.repricings.page(limit=limit)
    with pytest.raises(InvalidInput) as refused:
        shop.repricings.bands(run, BandFilter(), limit=limit)
    assert refused.value.path == ("limit",)
    with pytest.raises(InvalidInput):
        shop.repricings.floors(limit=limit)
