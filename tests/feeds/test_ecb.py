"""The layout of the European Central Bank's reference rates, with invented rates."""

from __future__ import annotations

from datetime import UTC, datetime
from decimal import Decimal

import pytest

from api.feeds.ecb import ecb_rates
from api.ports import Feed, FeedFailed


def file(*days, quote="'"):
    cubes = "".join(
        f"<Cube time='{day}'>"
        + "".join(f"<Cube currency='{code}' rate='{rate}'/>" for code, rate in rates)
        + "</Cube>"
        for day, rates in days
    )
    text = (
        "<gesmes:Envelope xmlns:gesmes='http://www.gesmes.org/xml/2002-08-01' "
        "xmlns='http://www.ecb.int/vocabulary/2002-08-01/eurofxref'>"
        f"<gesmes:subject>Reference rates</gesmes:subject><Cube>{cubes}</Cube>"
        "</gesmes:Envelope>"
    )
    return text.replace("'", quote)


def feed(currency=""):
    return Feed(
        title="Rates",
        url="https://feeds.example/",
        format="ecb",
        metal="EUR",
        currency=currency,
    )


def rates(text, currency=""):
    return {each.currency: each.price for each in ecb_rates(feed(currency), text)}


def why(text, currency=""):
    with pytest.raises(FeedFailed) as refused:
        ecb_rates(feed(currency), text)
    return refused.value.reason


USD, JPY = ("USD", "1.0853"), ("JPY", "163.27")


@pytest.mark.parametrize("quote", ["'", '"'])
def test_either_quote_gives_one_reading_a_currency(quote):
    text = file(("2026-11-23", [USD, JPY]), quote=quote)
    assert rates(text) == {"USD": Decimal("1.0853"), "JPY": Decimal("163.27")}


def test_the_latest_day_counts_wherever_it_stands():
    newest = ("2026-11-23", [USD])
    older = ("2026-11-20", [("USD", "1.07"), JPY])
    for days in ((newest, older), (older, newest)):
        assert rates(file(*days)) == {"USD": Decimal("1.0853")}


def test_a_date_stands_for_the_concertation_in_frankfurt():
    # 14:15 local time: ECB, euro foreign exchange reference rates.
    [summer] = ecb_rates(feed(), file(("2026-07-01", [USD])))
    [winter] = ecb_rates(feed(), file(("2026-12-01", [USD])))
    assert summer.as_of == datetime(2026, 7, 1, 12, 15, tzinfo=UTC)
    assert winter.as_of == datetime(2026, 12, 1, 13, 15, tzinfo=UTC)


def test_one_currency_can_be_asked_for():
    text = file(("2026-11-23", [USD, JPY]))
    assert rates(text, "JPY") == {"JPY": Decimal("163.27")}
    # RUB left the file in March 2022.
    assert why(text, "RUB") == "no_such_path"


def test_currencies_without_a_rate_or_out_of_use_are_passed_over():
    strange = [("RUB", "N/A"), ("CHF", ""), ("QQQ", "2"), ("usd", "2"), ("", "2")]
    assert rates(file(("2026-11-23", [*strange, USD]))) == {"USD": Decimal("1.0853")}
    assert why(file(("2026-11-23", strange))) == "no_such_path"


def test_a_rate_that_cannot_be_read_spoils_the_file():
    assert why(file(("2026-11-23", [USD, ("JPY", "many")]))) == "not_a_price"
    assert why(file(("2026-11-23", [USD, ("JPY", "-1")]))) == "not_positive"
    assert rates(file(("2026-11-23", [("USD", "1.085")]))) == {"USD": Decimal("1.085")}


def test_two_answers_are_none():
    assert why(file(("2026-11-23", [USD, ("USD", "1.1")]))) == "two_answers"
    assert why(file(("2026-11-23", [USD]), ("2026-11-23", [JPY]))) == "two_answers"


@pytest.mark.parametrize(
    "text",
    [
        "<a/>",
        file(),
        file(("yesterday", [USD])),
        file(("2026-11-31", [USD])),
        file(("2026-11-23", [USD])).replace("eurofxref", "other"),
    ],
)
def test_other_xml_is_not_taken_for_it(text):
    assert why(text) == "not_ecb"
