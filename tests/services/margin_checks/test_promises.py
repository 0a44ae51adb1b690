"""What is promised and not made yet."""

from __future__ import annotations

import json
from decimal import Decimal

from api.ports.margin_checks import PromisedQuote
from api.services.margin_checks.promises import MOST_QUOTES, open_promises
from api.services.quotes.terms import LineAsk, QuoteTerms
from pricing.iso_week import IsoWeek
from pricing.money import currency
from pricing.ring_size import ring_size
from pricing.wish import OwnCoin, Wish

EUR = currency("EUR")


def a_line(**changed):
    line = {
        "currency": "EUR",
        "own_coin": None,
        "spoilage": {"starts_per_good": "1.25"},
        "wish": {"quantity": 2},
        "forming": {"fine_ozt": "0.5"},
        "cost": {"slope_per_spot": "0.6"},
    }
    return line | changed


def promised(*lines, taken=0, accepted=True, kept_as=2):
    document = json.dumps({"format": kept_as, "lines": lines})
    return PromisedQuote(
        number="2026-0001", accepted=accepted, document=document, coins_taken=taken
    )


def test_coins_are_to_be_bought_for_lost_starts_too():
    found = open_promises([promised(a_line()), promised(a_line(), accepted=False)], EUR)
    assert (found.quotes, found.accepted, found.left_out) == (2, 1, 0)
    assert found.coins == Decimal("5.0000")
    assert found.fine_ozt == Decimal("2.5000")
    assert found.per_unit_of_spot == Decimal("-2.40")


def test_coins_that_were_taken_need_not_be_bought_and_move_with_spot_no_more():
    half = open_promises([promised(a_line(), a_line(), taken=2)], EUR)
    assert (half.coins, half.fine_ozt) == (Decimal("3.0000"), Decimal("1.5000"))
    assert half.per_unit_of_spot == Decimal("-1.44")
    more = open_promises([promised(a_line(), taken=9)], EUR)
    assert (more.coins, more.fine_ozt, more.per_unit_of_spot) == (0, 0, 0)


def test_a_coin_of_the_customers_own_is_not_bought():
    found = open_promises([promised(a_line(own_coin={"chance_lost": "0.2"}))], EUR)
    assert (found.coins, found.fine_ozt) == (Decimal("2.5000"), 0)


def test_what_cannot_be_read_or_is_too_much_is_counted():
    odd = [promised(a_line(), kept_as=99), promised(a_line(currency="GBP"))]
    found = open_promises(odd, EUR)
    assert (found.quotes, found.left_out) == (0, 2)
    many = open_promises([promised(a_line())] * (MOST_QUOTES + 1), EUR)
    assert (many.quotes, many.left_out) == (MOST_QUOTES, 1)


def test_real_quotes_are_read(services, checks):
    size = ring_size("us", "10")
    asks = [
        LineAsk(coin="at_50s_1959_1973", wish=Wish(size=size, quantity=2)),
        LineAsk(coin="at_50s_1959_1973", wish=Wish(size=size, own_coin=OwnCoin())),
    ]
    quote = services.quotes.create(asks, QuoteTerms())
    found = checks.week(IsoWeek(year=2026, week=49)).promises
    assert (found.quotes, found.accepted) == (1, 0)
    lines = json.loads(quote.document)["lines"]
    starts = Decimal(lines[0]["spoilage"]["starts_per_good"])
    ounces = starts * 2 * Decimal(lines[0]["forming"]["fine_ozt"])
    assert abs(found.fine_ozt - ounces) < Decimal("0.0001")
    services.quotes.accept(quote.id, expected=None)
    assert checks.week(IsoWeek(year=2026, week=49)).promises.accepted == 1
