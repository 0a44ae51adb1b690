"""The terms of a quote: checked before anything is priced."""

from __future__ import annotations

from decimal import Decimal, localcontext
from types import SimpleNamespace

import pytest

from api.services.quotes.terms import (
    LONGEST_HOURS,
    QuoteTerms,
    check_hours,
    checked,
    deposit,
    hours_valid,
    one_spot,
)
from pricing.errors import InvalidInput
from pricing.money import currency
from tests.services.promising import ask


@pytest.mark.parametrize("share", ["0.000001", "0.5", "1"])
def test_a_share_of_the_total_can_be_due_at_once(share):
    terms = QuoteTerms(deposit_share=Decimal(share))
    assert checked(terms) == terms


@pytest.mark.parametrize("share", ["0", "-0.5", "1.000001", "50"])
def test_another_share_is_refused(share):
    with pytest.raises(InvalidInput, match=r"deposit_share .* at most 1") as refused:
        checked(QuoteTerms(deposit_share=Decimal(share)))
    assert refused.value.path == ("deposit_share",)


@pytest.mark.parametrize("hours", [None, 1, LONGEST_HOURS])
def test_a_quote_may_hold_from_an_hour_to_a_year(hours):
    check_hours(hours)
    assert checked(QuoteTerms(valid_hours=hours)).valid_hours == hours


@pytest.mark.parametrize("hours", [0, -1, LONGEST_HOURS + 1])
def test_another_time_is_refused(hours):
    with pytest.raises(InvalidInput, match="give 1 to 8760") as refused:
        checked(QuoteTerms(valid_hours=hours))
    assert refused.value.path == ("valid_hours",)


def test_the_note_is_kept_as_plain_lines():
    terms = QuoteTerms(customer_note=" For Lily,\r\nin a box. ")
    assert checked(terms).customer_note == "For Lily,\nin a box."
    assert checked(QuoteTerms(customer_note="x" * 2000)).customer_note == "x" * 2000
    for note in ("x" * 2001, "a\x1b[2Jb"):
        with pytest.raises(InvalidInput) as refused:
            checked(QuoteTerms(customer_note=note))
        assert refused.value.path == ("customer_note",)


@pytest.mark.parametrize(
    ("prices", "found"),
    [
        ([], None),
        ([None], None),
        ([None, "27", None], "27"),
        (["27", "27.00"], "27"),
    ],
)
def test_one_spot_price_counts_for_every_line(prices, found):
    expected = None if found is None else Decimal(found)
    assert one_spot([ask(spot=price) for price in prices]) == expected


def test_two_spot_prices_are_refused_at_the_second():
    with pytest.raises(InvalidInput, match="28 beside one of 27") as refused:
        one_spot([ask(), ask(spot="27"), ask(), ask(spot="28")])
    assert refused.value.path == ("lines", 3, "spot", "price")


def test_a_quote_holds_as_asked_or_as_the_most_careful_policy_says():
    policies = [SimpleNamespace(validity_hours=hours) for hours in (72, 24, 48)]
    assert hours_valid(QuoteTerms(), policies) == 24
    assert hours_valid(QuoteTerms(valid_hours=100), policies) == 100


@pytest.mark.parametrize(
    ("total", "share", "code", "due"),
    [
        ("239.00", "0.5", "EUR", "119.50"),
        ("239.01", "0.5", "EUR", "119.51"),
        ("239.01", "0.333333", "EUR", "79.67"),
        ("2391", "0.5", "JPY", "1196"),
        ("239.001", "0.5", "KWD", "119.501"),
        ("239.00", "1", "EUR", "239.00"),
    ],
)
def test_a_deposit_is_rounded_half_up_to_the_minor_unit(total, share, code, due):
    with localcontext(prec=3):  # whatever the caller's own
        found = deposit(Decimal(total), Decimal(share), currency(code))
    assert str(found) == due


def test_without_a_share_nothing_is_due():
    assert deposit(Decimal(239), None, currency("EUR")) is None
