"""Cost against spot, from what a document tells of it."""

from __future__ import annotations

from decimal import Decimal
from itertools import pairwise

import pytest

from api.schemas.estimate_document import EstimateDocument, estimate_document
from api.web.bench.quote_curve import curve_of, spot_marks
from api.web.read_back import read_back
from pricing.catalogue import catalogue_coin
from pricing.coin_document import coin_document, read_coin
from pricing.estimate import prepare
from pricing.price_book import read_price_book
from pricing.ring_size import ring_size
from pricing.spot import Spot
from pricing.wish import Wish
from tests.http.workshop import BOOK

_WISH = Wish(size=ring_size("us", "10"))
_BOOK = read_price_book(BOOK)
_CENT = Decimal("0.02")


def drawn(price, **bought):
    """The estimate of a ring, its document, and the curve as a kept quote has it."""
    coin = catalogue_coin("at_50s_1959_1973")
    coin = read_coin(coin_document(coin) | bought)
    found = prepare(_BOOK, coin, _WISH).at(Spot(price=Decimal(price), currency="EUR"))
    line = read_back(estimate_document(found), EstimateDocument())
    return found, line, curve_of(line)


def on(points, across):
    """How high a line of corners is somewhere."""
    for (low, under), (high, over) in pairwise(points):
        if low <= across <= high:
            return under + (over - under) * (across - low) / (high - low)
    raise AssertionError(f"{across} is not in the picture")


@pytest.mark.parametrize("at_hand", [True, False])
@pytest.mark.parametrize(
    ("spot", "bought"),
    [
        ("27.50", {}),
        ("27.50", {"basis": "paid", "paid": "14.00"}),
        ("20", {"basis": "greater_of", "paid": "18.00"}),
        ("40", {"basis": "greater_of", "paid": "18.00"}),
    ],
)
def test_the_cost_is_the_exact_one_at_every_corner_and_between(spot, bought, at_hand):
    found, line, curve = drawn(spot, **bought)
    # A document tells no more than today of a cost that meets no break-even.
    assert (curve is None) == (bought.get("basis") == "paid")
    if at_hand or curve is None:
        curve = curve_of(line, found.cost.exact)
    for across, up in curve.cost:
        assert abs(found.cost.exact.at(across) - up) < _CENT
    low, high = curve.cost[0][0], curve.cost[-1][0]
    for step in range(11):
        across = low + (high - low) * step / 10
        assert abs(on(curve.cost, across) - found.cost.exact.at(across)) < _CENT


def test_corners_run_from_left_to_right_and_hold_today():
    _, line, curve = drawn("20", basis="greater_of", paid="18.00")
    across = [point[0] for point in curve.cost]
    assert across == sorted(across)
    assert (Decimal(20), line["cost"]["per_piece"]) in curve.cost


def test_the_margin_is_gone_where_the_cost_meets_what_the_price_leaves():
    _, line, curve = drawn("27.50")
    zero = line["break_even"]["spot_at_zero"]
    assert abs(on(curve.cost, zero) - curve.price[0][1]) < _CENT
    assert curve.price[0][1] == curve.price[1][1]
    assert zero in [across for across, _ in curve.marks]


def test_break_evens_are_told_by_side():
    _, line, _ = drawn("27.50")
    assert [(mark.name, mark.above) for mark in spot_marks(line)] == [
        ("floor", True),
        ("zero", True),
    ]


def test_a_break_even_far_away_is_told_and_not_drawn():
    found, line, _ = drawn("2.50")
    curve = curve_of(line, found.cost.exact)
    assert [mark for mark in spot_marks(line) if mark.spot > 20]
    assert not [across for across, _ in curve.marks if across > 20]


def test_where_only_today_is_known_nothing_is_drawn():
    found, line, _ = drawn("27.50")
    even = dict.fromkeys(line["break_even"])
    assert curve_of(line | {"break_even": even}) is None
    assert curve_of(line | {"break_even": even}, found.cost.exact)


def test_a_cost_without_silver_has_no_curve():
    _, line, _ = drawn("27.50")
    assert curve_of(line | {"spot": None}) is None
