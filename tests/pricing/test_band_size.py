from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pricing.band_size import band_size, sheet_of, sizes_between
from pricing.coin import HoleStep
from pricing.errors import InvalidInput, NotMakeable
from pricing.estimate import prepare
from pricing.money import arithmetic
from pricing.price_book import Calibration
from tests.oracles.random_rings import random_case
from tests.oracles.workshops import DOLLAR, book, policy, silver_coin, spot, wish


@pytest.fixture(autouse=True)
def _fixed_arithmetic():
    with arithmetic():
        yield


def test_a_band_of_one_size_has_that_size():
    assert sizes_between(Decimal(9), Decimal("9.00")) == (Decimal(9),)


def test_a_band_reaches_from_the_smallest_size_to_the_largest():
    sizes = sizes_between(Decimal(0), Decimal(16))
    assert (len(sizes), sizes[0], sizes[-1]) == (65, 0, 16)


@pytest.mark.parametrize(
    ("least", "most", "end"),
    [
        ("-0.25", "5", "from"),
        ("16.25", "16.5", "from"),
        ("5.1", "6", "from"),
        ("5", "6.125", "to"),
        ("5", "16.25", "to"),
        ("6", "5.75", "to"),
    ],
)
def test_ends_that_make_no_band_are_refused(least, most, end):
    with pytest.raises(InvalidInput) as refused:
        sizes_between(Decimal(least), Decimal(most))
    assert refused.value.path == (end,)


@settings(max_examples=60, deadline=None)
@given(st.integers(0, 10**6))
def test_what_is_kept_of_a_size_is_what_an_estimate_has(seed):
    case = random_case(seed)
    kept = band_size(case.book, case.coin, case.wish, shared={})
    whole = prepare.__wrapped__(case.book, case.coin, case.wish)
    assert kept.size_us == case.wish.size.us
    assert kept.line == whole.sheet.exact
    figures, least = whole.cost_at(case.spot).figures, whole.policy.min_hourly
    if least is None:
        assert kept.earning == 0
    else:
        earned = least * figures.attended_minutes / 60
        assert kept.earning == earned - figures.labour


@settings(max_examples=60, deadline=None)
@given(st.integers(0, 10**6))
def test_a_weighted_sum_is_that_of_the_presented_lines_and_within_its_bounds(seed):
    case = random_case(seed)
    kept = band_size(case.book, case.coin, case.wish, shared={}).weighted
    factors = case.book.policies[0].multipliers
    if factors is None:
        assert kept is None
        return
    sheet = prepare.__wrapped__(case.book, case.coin, case.wish).cost_at(case.spot)
    shown = sum(factors.get(x.kind, 1) * x.amount for x in sheet.lines)
    price = case.spot.price
    assert kept.at(price, case.book.currency) == shown
    assert kept.lowest(price) <= shown <= kept.highest.at(price)


def test_a_weighted_sum_worked_by_hand():
    # Of a packaging of 1.80, counted once, and labour counted twice; all else is
    # counted not at all. 31 minutes of route give some labour L: 2 × L + 1.80.
    every = ("coin", "overhead", "consumable", "tool", "extra", "recovery")
    factors = {"labour": Decimal(2)} | dict.fromkeys(every, Decimal(0))
    shop = book(policies=(policy(multipliers=factors),))
    kept = band_size(shop, DOLLAR, wish(), shared={}).weighted
    labour = prepare(shop, DOLLAR, wish()).cost_at(spot()).by_kind["labour"]
    assert kept.at(Decimal("27.50"), shop.currency) == 2 * labour + Decimal("1.80")


def test_lines_that_are_the_same_in_two_sizes_are_kept_once():
    shop = book(policies=(policy(multipliers={"labour": Decimal(2)}),))
    shared = {}
    nine, ten = (
        band_size(shop, DOLLAR, wish(us), shared=shared).weighted for us in ("9", "10")
    )
    assert nine.lines[0] is ten.lines[0]
    assert len(shared) < len(nine.lines) + len(ten.lines)


def test_a_size_that_cannot_be_made_is_named():
    wide = (HoleStep(hole_mm=Decimal(36), up_to=None),)
    with pytest.raises(NotMakeable, match=r"^US 9\.25: "):
        sheet_of(book(), silver_coin(holes=wide), wish("9.25"))


def test_a_size_whose_figures_do_not_fit_together_is_named():
    heavy = Calibration(coin=DOLLAR.key, slug=Decimal(9))
    with pytest.raises(InvalidInput, match=r"^US 9\.25: the calibration") as refused:
        sheet_of(book(calibrations=(heavy,)), DOLLAR, wish("9.25"))
    assert refused.value.path == ("calibrations",)
