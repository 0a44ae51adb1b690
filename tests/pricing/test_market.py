"""What is said of an old spot, and of an old rate."""

from __future__ import annotations

from datetime import UTC, datetime
from decimal import Decimal

import pytest

from pricing.market import UNKNOWN, Market
from pricing.price_book import StaleSpot
from pricing.spot import FxRate, Spot, convert

NOON = datetime(2026, 12, 1, 12, tzinfo=UTC)
LIMITS = StaleSpot(warn_hours=Decimal(26), refuse_hours=Decimal(72))
EUROS = Spot(price=Decimal("27.50"), currency="EUR", as_of=NOON, source="assay")
RATE = FxRate(base="EUR", quote="USD", rate=Decimal("1.10"), as_of=NOON, source="bank")
CONVERTED = convert(
    Spot(price=Decimal(30), currency="USD", as_of=NOON, source="assay"), RATE, to="EUR"
)


def test_of_a_spot_about_which_nothing_is_known_nothing_is_said():
    assert UNKNOWN.cautions(LIMITS, EUROS) == ()
    assert UNKNOWN.too_old(LIMITS, EUROS) is None


@pytest.mark.parametrize(
    ("hours", "warned", "refused"),
    [
        ("0", False, False),
        ("26", False, False),
        ("26.0001", True, False),
        ("72", True, False),
        ("72.0001", True, True),
    ],
)
def test_over_each_limit_and_not_at_it(hours, warned, refused):
    market = Market(spot_hours=Decimal(hours))
    assert bool(market.cautions(LIMITS, EUROS)) is warned
    assert (market.too_old(LIMITS, EUROS) is not None) is refused


def test_a_caution_says_how_old_from_where_and_what_to_do():
    (caution,) = Market(spot_hours=Decimal("30.254")).cautions(LIMITS, EUROS)
    assert (caution.code, caution.audience) == ("spot_stale", "bench")
    assert caution.text == (
        "The spot price of 2026-12-01 12:00+00:00 (assay) is 30.3 hours of open "
        "market old; the policy warns over 26 and refuses over 72. Fetch or enter "
        "today's before you promise this price."
    )


def test_an_old_rate_is_said_to_be_old_too():
    market = Market(spot_hours=Decimal(27), rate_hours=Decimal(80))
    spot, rate = market.cautions(LIMITS, CONVERTED)
    assert spot.text.startswith("The spot price of")
    assert rate.text.startswith("The rate of EUR in USD of 2026-12-01 12:00+00:00 (b")
    assert "EUR in USD" in market.too_old(LIMITS, CONVERTED)


def test_the_age_of_a_rate_that_was_not_needed_does_not_count():
    market = Market(spot_hours=Decimal(0), rate_hours=Decimal(80))
    assert market.cautions(LIMITS, EUROS) == ()


def test_a_spot_without_a_moment_is_told_by_its_source():
    given = Spot(price=Decimal(27), currency="EUR")
    assert "The spot price (given) is 80" in Market(spot_hours=Decimal(80)).too_old(
        LIMITS, given
    )
