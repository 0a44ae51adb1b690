from __future__ import annotations

import json
from decimal import Decimal

import pytest


def test_a_price_is_entered_in_the_named_currency(run, services):
    done = run("spot", "set", "27.50", "--currency", "EUR", "--note", "counter")
    assert done.exit_code == 0
    assert done.stdout == "Silver is 27.50 EUR a troy ounce from now on.\n"
    [entry] = services.spot_prices.kept
    assert (entry.price, entry.note) == (Decimal("27.50"), "counter")


def test_the_currency_is_else_the_price_books(run, services, book_file):
    assert run("book", "load", book_file).exit_code == 0
    assert run("spot", "set", "27.50").exit_code == 0
    assert services.spot_prices.kept[0].currency == "EUR"


def test_without_either_currency_nothing_is_entered(run, services):
    done = run("spot", "set", "27.50")
    assert done.exit_code == 1
    assert "book load" in done.stderr
    assert not services.spot_prices.kept


@pytest.mark.parametrize("price", ["2,75", "1e3", "NaN", "27.50 EUR"])
def test_a_price_that_is_no_plain_number_is_refused(run, services, price):
    done = run("spot", "set", price, "--currency", "EUR")
    assert done.exit_code == 1
    assert "price:" in done.stderr
    assert not services.spot_prices.kept


def test_the_end_of_a_price_keeps_its_time_zone(run, services):
    run(
        "spot",
        "set",
        "27.50",
        "--currency",
        "EUR",
        "--expires",
        "2026-12-24T18:00+01:00",
    )
    expires = services.spot_prices.kept[0].expires_at
    assert expires.isoformat() == "2026-12-24T18:00:00+01:00"


def test_an_end_without_a_time_zone_is_a_usage_error(run):
    done = run(
        "spot", "set", "27", "--currency", "EUR", "--expires", "2026-12-24T18:00"
    )
    assert done.exit_code == 2


def test_the_current_price_is_shown_with_its_age(run):
    run("spot", "set", "27.50", "--currency", "EUR")
    text = run("spot", "show").stdout
    assert "27.50 EUR a troy ounce" in text
    assert "1.5 hours" in text
    document = json.loads(run("spot", "show", "--json").stdout)
    assert document["price"] == "27.50"
    assert document["as_of"].startswith("2026-12-01T12:00:00")


def test_no_usable_price_ends_with_its_own_code(run):
    done = run("spot", "show")
    assert done.exit_code == 4
    assert "spot set" in done.stderr


def test_the_last_entries_are_listed_newest_first(run):
    for price in ("26", "27", "28"):
        run("spot", "set", price, "--currency", "EUR")
    lines = run("spot", "show", "--history", 2).stdout.splitlines()
    assert len(lines) == 3
    assert "28.00" in lines[1]
    document = json.loads(run("spot", "show", "--history", 2, "--json").stdout)
    assert [each["price"] for each in document["spot_prices"]] == ["28", "27"]


def test_an_empty_history_says_how_to_begin(run):
    assert "spot set" in run("spot", "show", "--history", 5).stderr
