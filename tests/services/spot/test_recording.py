"""Many prices in one answer: each judged alone, one line in the log."""

from __future__ import annotations

from decimal import Decimal

import pytest

from api.services.actor import acting
from tests.services.feeding import MAKER, NOON, RATES, Fetchery, codes, reading


@pytest.fixture
def rates(storage, clock):
    made = Fetchery(storage, clock)
    made.set_up("bank", RATES)
    return made


def fetch(rates, **prices):
    rates.source.say(*(reading(p, currency=c) for c, p in prices.items()))
    return rates.spots.fetch("bank")


def test_each_currency_is_an_entry_of_its_own(rates):
    results = fetch(rates, USD="1.0853", JPY="162.15")
    assert [result.outcome for result in results] == ["accepted", "accepted"]
    entries = rates.spots.history("EUR")
    assert [(e.metal, e.currency, e.price) for e in entries] == [
        ("EUR", "JPY", Decimal("162.15")),
        ("EUR", "USD", Decimal("1.0853")),
    ]
    assert [result.entry_id for result in results] == [1, 2]
    assert rates.storage.revisions().spot_prices == 1


def test_the_line_of_the_log_names_the_gravest_and_tells_of_each(rates):
    results = fetch(rates, USD="1.0853", JPY="-1", GBP="0.86")
    assert [result.outcome for result in results] == ["accepted", "refused", "accepted"]
    (line,) = rates.log("bank")
    assert (line.outcome, line.entry_id) == ("refused", None)
    assert any(finding.text.startswith("JPY: ") for finding in line.findings)
    assert not codes(results[1])[0].startswith("JPY")


def test_one_entry_of_many_prices_is_named(rates):
    fetch(rates, USD="1.0853")
    fetch(rates, USD="1.0853", GBP="0.86")
    newest, _ = rates.log("bank")
    assert (newest.outcome, newest.entry_id) == ("accepted", 2)


def test_prices_that_are_all_known_are_one_ignored_line(rates):
    fetch(rates, USD="1.0853", GBP="0.86")
    before = rates.storage.revisions()
    fetch(rates, USD="1.0853", GBP="0.86")
    assert rates.log("bank")[0].outcome == "ignored"
    assert rates.storage.revisions() == before


def test_a_held_price_does_not_count_as_a_change_of_what_is_in_force(rates, clock):
    fetch(rates, USD="1.0853")
    before = rates.storage.revisions().spot_prices
    clock.advance(hours=24)
    rates.source.say(reading("1.30", clock.now(), "USD"))
    with acting(MAKER):
        (held,) = rates.spots.fetch("bank")
    assert held.outcome == "held"
    assert rates.storage.revisions().spot_prices == before
    (entry,) = rates.spots.history("EUR", status="held")
    assert (entry.as_of, entry.recorded_at, entry.by) == (
        NOON.replace(day=2),
        clock.now(),
        "maker",
    )
