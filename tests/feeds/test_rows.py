"""Of many rows the latest valid date counts, wherever it stands."""

from __future__ import annotations

from datetime import UTC, date, datetime
from random import Random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from api.feeds.rows import latest, one_row, price_paths, time_of
from api.ports import Feed, FeedFailed, FeedTime

FEED = Feed(
    title="A feed",
    url="https://feeds.example/",
    format="json",
    rows="",
    price="p",
    time=FeedTime(path="d", format="date"),
)
SIDES = Feed(**{**{name: getattr(FEED, name) for name in FEED.__slots__},
                "price": None, "bid": "b", "ask": "a"})  # fmt: skip


def rows(*members):
    def lookup(each):
        def at(path):
            if path not in each:
                raise FeedFailed("no_such_path", f"{path} is not there.")
            return each[path]

        return at

    return [lookup(each) for each in members]


def why(feed, found):
    with pytest.raises(FeedFailed) as refused:
        latest(feed, found)
    return refused.value


def test_the_latest_is_picked_by_date_and_not_by_place():
    found = rows(*({"d": f"2026-11-{d}", "p": d} for d in (20, 23, 19)))
    row, instant = latest(FEED, found)
    assert (row("p"), instant) == (23, datetime(2026, 11, 23, 12, tzinfo=UTC))


@pytest.mark.parametrize(
    "later",
    [
        {"d": "2026-11-24", "p": None},
        {"d": "2026-11-24", "p": 0},
        {"d": "2026-11-24", "p": ""},
        {"d": "2026-11-24"},
        {"d": "2026-11-31", "p": 5},
        {"d": None, "p": 5},
        {"p": 5},
    ],
)
def test_rows_without_a_date_or_a_price_are_passed_over(later):
    good = {"d": "2026-11-23", "p": 4}
    for order in ([good, later], [later, good]):
        assert latest(FEED, rows(*order))[0]("p") == 4


def test_a_latest_row_that_cannot_be_read_is_not_replaced_by_an_older_one():
    found = rows({"d": "2026-11-23", "p": 4}, {"d": "2026-11-24", "p": "closed?"})
    assert latest(FEED, found)[0]("p") == "closed?"


def test_two_rows_of_the_latest_date_must_agree():
    one, same = {"d": "2026-11-23", "p": 4}, {"d": "2026-11-23", "p": 4}
    assert latest(FEED, rows(one, same))[0]("p") == 4
    other = {"d": "2026-11-23", "p": 5}
    assert why(FEED, rows(one, other)).reason == "two_answers"
    later = {"d": "2026-11-24", "p": 6}
    assert latest(FEED, rows(one, other, later))[0]("p") == 6


def test_both_sides_have_to_be_there():
    full = {"d": "2026-11-23", "b": 4, "a": 5}
    half = {"d": "2026-11-24", "b": 4, "a": None}
    assert price_paths(SIDES) == ("b", "a")
    assert latest(SIDES, rows(full, half))[0]("a") == 5


@pytest.mark.parametrize(
    ("found", "said"),
    [
        ([], "date and a price"),
        ([{"d": "2026-11-23", "p": None}], "date and a price"),
        ([{"d": "2026-11-23", "x": 1}], "p is not there"),
        ([{"d": "soon", "p": 1}], "not a time"),
    ],
)
def test_no_valid_row_at_all_is_refused_with_a_hint(found, said):
    refused = why(FEED, rows(*found))
    assert refused.reason == "no_valid_row"
    assert said in refused.message


def test_a_single_row_needs_its_time():
    [row] = rows({"d": "2026-11-23", "p": 4})
    assert one_row(FEED, row) == (row, datetime(2026, 11, 23, 12, tzinfo=UTC))
    timeless = Feed(title="A", url="https://feeds.example/", format="json")
    with pytest.raises(FeedFailed) as refused:
        time_of(timeless, row)
    assert refused.value.reason == "no_time"


DAYS = st.dates(date(1971, 1, 1), date(2198, 1, 1))


@given(st.sets(DAYS, min_size=1, max_size=8), st.integers(0, 99))
def test_the_order_of_rows_never_matters(days, seed):
    found = [{"d": day.isoformat(), "p": day.isoformat()} for day in days]
    Random(seed).shuffle(found)  # noqa: S311 - an order, no secret
    assert latest(FEED, rows(*found))[0]("p") == max(days).isoformat()
