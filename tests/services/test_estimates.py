"""Estimates: what is stored and what is wished, brought together."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from decimal import Decimal

import pytest

from api.ports import NotFound, SpotUnavailable, StaleSpot
from api.services import Coins, Estimates, PriceBooks, Snapshots, SpotPrices
from pricing.catalogue import catalogue_coin
from pricing.coin_document import read_coin
from pricing.errors import InvalidInput, UnknownKey
from pricing.estimate import estimate
from pricing.ring_size import ring_size
from pricing.spot import Spot
from pricing.wish import Wish

COIN = "at_50s_1959_1973"
WISH = Wish(size=ring_size("us", "10"))
BASE = {
    "metal": "base",
    "gross_mass_g": "22.68",
    "diameter_mm": "38.1",
    "density_g_cm3": "8.95",
    "paid": "1.50",
}


class Workshop:
    """The services of one workshop."""

    def __init__(self, storage, clock):
        self.snapshots = Snapshots(storage, clock)
        self.books = PriceBooks(self.snapshots, clock)
        self.coins = Coins(self.snapshots, clock)
        self.spots = SpotPrices(self.snapshots, clock)
        self.estimates = Estimates(
            self.snapshots,
            clock,
            books=self.books,
            coins=self.coins,
            spots=self.spots,
        )


@pytest.fixture
def empty(storage, clock):
    return Workshop(storage, clock)


@pytest.fixture
def unpriced(empty, book_document):
    empty.books.replace(book_document, expected=None)
    return empty


@pytest.fixture
def workshop(unpriced):
    unpriced.spots.enter("XAG", Decimal("27.50"), "EUR")
    return unpriced


def test_an_estimate_is_of_the_stored_book_coin_and_spot(workshop, clock):
    clock.advance(minutes=90)
    found = workshop.estimates.estimate(COIN, WISH)
    spot = workshop.spots.current()
    expected = estimate(workshop.books.current(), catalogue_coin(COIN), spot, WISH)
    assert found == expected
    assert found.book_version == 1
    assert (found.spot.source, found.spot.age_hours) == ("manual", Decimal("1.5"))


def test_a_spot_given_with_the_wish_goes_before(workshop, clock):
    found = workshop.estimates.estimate(COIN, WISH, spot_price=Decimal(40))
    assert found.spot == Spot(price=Decimal(40), currency="EUR", as_of=clock.now())
    assert found.spot.source == "given"


def test_a_coin_that_is_not_stored_can_be_priced(workshop):
    coin = replace(catalogue_coin(COIN), key="", gross_mass_g=Decimal(21))
    assert workshop.estimates.estimate(coin, WISH).coin == coin


def test_the_workshops_own_coin_goes_before_the_catalogues(workshop):
    mine = replace(catalogue_coin(COIN), gross_mass_g=Decimal(21))
    workshop.coins.replace(COIN, mine, expected=0)
    assert workshop.estimates.estimate(COIN, WISH).coin.gross_mass_g == 21


def test_an_unknown_coin_is_the_wishs_fault(workshop):
    with pytest.raises(UnknownKey, match=COIN) as refused:
        workshop.estimates.estimate("at_50s_1959_197", WISH)
    assert refused.value.path == ("coin",)


def test_without_a_book_nothing_is_priced(empty):
    with pytest.raises(NotFound, match="fineweight book load"):
        empty.estimates.estimate(COIN, WISH, spot_price=Decimal(27))


def test_silver_without_a_spot_is_not_priced(empty, book_document):
    empty.books.replace(book_document, expected=None)
    with pytest.raises(SpotUnavailable, match=r"spot set 27\.50.*spot fetch"):
        empty.estimates.estimate(COIN, WISH)


def test_silver_with_a_spot_in_another_currency_needs_a_rate(empty, book_document):
    empty.books.replace(book_document, expected=None)
    empty.spots.enter("XAG", Decimal(30), "USD")
    with pytest.raises(SpotUnavailable, match=r"USD.*EUR"):
        empty.estimates.estimate(COIN, WISH)
    empty.spots.enter("EUR", Decimal("1.2"), "USD")
    spot = empty.estimates.estimate(COIN, WISH).spot
    assert (spot.price, spot.currency, spot.fx.rate) == (25, "EUR", Decimal("1.2"))
    given = empty.estimates.estimate(COIN, WISH, spot_price=Decimal(25))
    assert given.price == empty.estimates.estimate(COIN, WISH).price


def test_a_coin_that_needs_no_spot_needs_no_rate(empty, book_document):
    empty.books.replace(book_document, expected=None)
    empty.spots.enter("XAG", Decimal(30), "USD")
    assert empty.estimates.estimate(read_coin(BASE), WISH).spot is None


def test_a_given_spot_that_cannot_be_is_the_wishs_fault(workshop):
    with pytest.raises(InvalidInput) as refused:
        workshop.estimates.estimate(COIN, WISH, spot_price=Decimal(0))
    assert refused.value.path == ("spot", "price")


def test_a_coin_without_a_metal_price_needs_no_spot(empty, book_document):
    empty.books.replace(book_document, expected=None)
    found = empty.estimates.estimate(read_coin(BASE), WISH)
    assert found.spot is None


def test_another_fault_of_the_wish_stays_what_it_is(workshop):
    wish = replace(WISH, channel="nowhere")
    with pytest.raises(UnknownKey, match="own_shop"):
        workshop.estimates.estimate(COIN, wish)


def test_figures_that_do_not_fit_together_are_the_wishs_fault(workshop):
    wish = replace(WISH, hole_mm=Decimal(15), band_width_mm=Decimal(9))
    with pytest.raises(InvalidInput) as refused:
        workshop.estimates.estimate(COIN, wish)
    assert refused.value.path[:1] != ("spot",)


def test_an_estimate_in_a_held_request_asks_the_database_once(
    workshop, storage, monkeypatch
):
    workshop.estimates.estimate(COIN, WISH)
    asked = []
    revisions = storage.revisions
    monkeypatch.setattr(storage, "revisions", lambda: asked.append(1) or revisions())
    monkeypatch.setattr(storage, "read", None)
    with workshop.snapshots.held():
        workshop.snapshots.take()
        workshop.estimates.estimate(COIN, WISH)
    assert asked == [1]


def watched(estimate):
    return [c.text for c in estimate.cautions if c.code == "spot_stale"]


@pytest.mark.parametrize(
    ("hours", "warned"), [(0, False), (26, False), (27, True), (72, True)]
)
def test_an_old_spot_is_said_to_be_old(workshop, clock, hours, warned):
    clock.advance(hours=hours)
    found = workshop.estimates.estimate(COIN, WISH)
    assert bool(watched(found)) is warned


def test_a_spot_older_than_the_policy_allows_is_not_priced_with(workshop, clock):
    clock.advance(hours=73)
    with pytest.raises(StaleSpot, match=r"73\.0 hours.*'retail' refuses over 72") as no:
        workshop.estimates.estimate(COIN, WISH)
    assert "fineweight spot set 27.50" in no.value.message
    assert "fineweight spot fetch" in no.value.message
    given = workshop.estimates.estimate(COIN, WISH, spot_price=Decimal(27))
    assert not watched(given)


def test_a_coin_that_needs_no_spot_may_have_an_old_one(workshop, clock):
    clock.advance(hours=99)
    found = workshop.estimates.estimate(read_coin(BASE), WISH)
    assert found.spot.price == Decimal("27.50")
    assert not watched(found)


def test_each_policy_has_its_own_patience(empty, book_document, clock):
    patient = {"warn_hours": "100", "refuse_hours": "200"}
    policies = [
        *book_document["policies"],
        {"key": "patient", "target_margin": "0.35", "stale_spot": patient},
    ]
    empty.books.replace(book_document | {"policies": policies}, expected=None)
    empty.spots.enter("XAG", Decimal("27.50"), "EUR")
    clock.advance(hours=73)
    with pytest.raises(StaleSpot):
        empty.estimates.estimate(COIN, WISH)
    found = empty.estimates.estimate(COIN, replace(WISH, policy="patient"))
    assert not watched(found)


def test_an_old_rate_counts_as_an_old_spot_does(empty, book_document, clock):
    empty.books.replace(book_document, expected=None)
    empty.spots.enter("EUR", Decimal("1.2"), "USD")
    clock.advance(hours=30)
    empty.spots.enter("XAG", Decimal(30), "USD")
    (said,) = watched(empty.estimates.estimate(COIN, WISH))
    assert said.startswith("The rate of EUR in USD")
    clock.advance(hours=43)
    with pytest.raises(StaleSpot, match="EUR in USD"):
        empty.estimates.estimate(COIN, WISH)


def test_a_price_by_hand_with_an_end_is_not_old_before_it(workshop, clock):
    later = clock.now() + timedelta(days=30)
    workshop.spots.enter("XAG", Decimal(28), "EUR", expires_at=later)
    clock.advance(days=29)
    found = workshop.estimates.estimate(COIN, WISH)
    assert found.spot.price == 28
    assert not watched(found)


MOMENTS = {
    "Friday's price on Monday morning": ((11, 27, 12), (11, 30, 9), False),
    "Friday's price on Tuesday after a missed Monday": (
        (11, 27, 12),
        (12, 1, 15),
        True,
    ),
    "over the night on which clocks go back": ((10, 24, 12), (10, 26, 9), False),
    "from Friday over the night on which clocks go back": (
        (10, 23, 12),
        (10, 26, 9),
        False,
    ),
    "from Christmas Eve to the next open day": ((12, 24, 12), (12, 28, 13), False),
    "over the turn of the year": ((12, 31, 12), (12, 31, 23), False),
}


@pytest.mark.parametrize(
    ("priced", "asked", "warned"), MOMENTS.values(), ids=MOMENTS.keys()
)
def test_hours_of_closed_days_do_not_make_a_price_old(
    unpriced, clock, priced, asked, warned
):
    clock.time = datetime(2026, *priced, tzinfo=UTC)
    unpriced.spots.enter("XAG", Decimal("27.50"), "EUR")
    clock.time = datetime(2026, *asked, tzinfo=UTC)
    assert bool(watched(unpriced.estimates.estimate(COIN, WISH))) is warned


def test_the_turn_of_the_year_is_a_closed_day(unpriced, clock):
    clock.time = datetime(2026, 12, 31, 12, tzinfo=UTC)  # a Thursday
    unpriced.spots.enter("XAG", Decimal("27.50"), "EUR")
    clock.time = datetime(2027, 1, 4, 13, tzinfo=UTC)  # the Monday after
    assert not watched(unpriced.estimates.estimate(COIN, WISH))
    clock.advance(hours=2)
    assert watched(unpriced.estimates.estimate(COIN, WISH))


def test_how_long_a_price_may_hold_is_suggested_from_ten_market_days_on(
    workshop, clock
):
    clock.advance(days=-14)
    for day in range(14):
        workshop.spots.enter("XAG", Decimal("27.2") + Decimal(day % 2) / 2, "EUR")
        clock.advance(days=1)
    found = workshop.estimates.estimate(COIN, WISH)
    assert found.validity.points == 11
    assert 1 <= found.validity.hours <= 720


def test_too_few_days_suggest_nothing(workshop):
    assert workshop.estimates.estimate(COIN, WISH).validity is None


def test_a_ring_asked_for_again_at_the_same_spot_is_not_priced_again(workshop, clock):
    first = workshop.estimates.estimate(COIN, WISH)
    clock.advance(seconds=5)
    assert workshop.estimates.estimate(COIN, WISH) is first


def test_a_new_spot_or_book_prices_it_anew(workshop, book_document):
    first = workshop.estimates.estimate(COIN, WISH)
    workshop.spots.enter("XAG", Decimal(30), "EUR")
    second = workshop.estimates.estimate(COIN, WISH)
    workshop.books.replace(book_document | {"title": "Another"}, expected=1)
    third = workshop.estimates.estimate(COIN, WISH)
    assert (second.spot.price, second.cost.per_piece > first.cost.per_piece) == (30, 1)
    assert third.book_version == 2


def test_only_so_many_estimates_are_kept(workshop, monkeypatch):
    monkeypatch.setattr("api.services.estimates.MOST_KEPT", 2)
    wishes = [Wish(size=ring_size("us", size)) for size in ("8", "9", "10")]
    first = [workshop.estimates.estimate(COIN, wish) for wish in wishes]
    again = [workshop.estimates.estimate(COIN, wish) for wish in reversed(wishes)]
    assert again[0] is first[2]
    assert again[2] is not first[0]
    assert again[2] == first[0]


def test_a_kept_estimate_is_refused_once_its_spot_is_too_old(workshop, clock):
    workshop.estimates.estimate(COIN, WISH)
    clock.advance(days=12)
    with pytest.raises(StaleSpot):
        workshop.estimates.estimate(COIN, WISH)
