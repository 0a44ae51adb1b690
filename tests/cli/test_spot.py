"""`fineweight spot` on a real database, with a feed whose answers a test writes."""

from __future__ import annotations

import json
from datetime import timedelta
from decimal import Decimal

import pytest

from api.app import compose
from api.cli.exit_codes import ExitCode
from api.cli.spot_words import age
from api.ports import FeedFailed
from api.settings import Settings
from tests.http.workshop import Post

FEED = {
    "title": "The assay office",
    "url": "https://feeds.example/silver",
    "format": "json",
    "currency": "EUR",
    "price": "/price",
    "time": {"path": "/at"},
}
REFUSED = FeedFailed("not_found", "There is nothing.")


def letter(price, at="2026-12-01T12:00:00Z"):
    return json.dumps({"price": price, "at": at}).encode()


@pytest.fixture
def post_office():
    return Post({FEED["url"]: letter("27.80")})


@pytest.fixture
def services(tmp_path, clock, post_office):
    """A workshop without a price; it is a Tuesday, noon."""
    database = str(tmp_path / "workshop.sqlite3")
    composed = compose(Settings(database=database), clock=clock, fetcher=post_office)
    yield composed
    composed.close()


@pytest.fixture
def fed(services):
    services.feeds.put("assay", FEED, expected=None)
    return services


def entries(services, metal="XAG"):
    return services.spot_prices.history(metal)


# Entering


def test_a_price_is_entered_in_the_named_currency(run, services, monkeypatch):
    monkeypatch.setattr("api.cli.caller.user_name", lambda: "ada")
    done = run("spot", "set", "27.50", "--currency", "EUR", "--note", "counter")
    assert done.exit_code == 0
    assert done.stdout == "Silver is 27.50 EUR a troy ounce from now on.\n"
    [entry] = entries(services)
    assert (entry.price, entry.note, entry.by) == (27.5, "counter", "ada")


def test_the_currency_is_else_the_price_books(run, services, book_file):
    assert run("book", "load", book_file).exit_code == 0
    assert run("spot", "set", "27.50").exit_code == 0
    assert entries(services)[0].currency == "EUR"


def test_without_either_currency_nothing_is_entered(run, services):
    done = run("spot", "set", "27.50")
    assert done.exit_code == 1
    assert "book load" in done.stderr
    assert not entries(services)


@pytest.mark.parametrize("price", ["2,75", "1e3", "NaN", "27.50 EUR"])
def test_a_price_that_is_no_plain_number_is_refused(run, services, price):
    done = run("spot", "set", price, "--currency", "EUR")
    assert done.exit_code == 1
    assert "price:" in done.stderr
    assert not entries(services)


def test_the_end_of_a_price_keeps_its_time_zone(run, services):
    end = "2026-12-24T18:00+01:00"
    run("spot", "set", "27.50", "--currency", "EUR", "--expires", end)
    [entry] = entries(services)
    assert entry.expires_at.isoformat() == "2026-12-24T17:00:00+00:00"
    assert "expires  2026-12-24 17:00 UTC" in run("spot", "show").stdout


def test_an_end_without_a_time_zone_is_a_usage_error(run):
    end = "2026-12-24T18:00"
    done = run("spot", "set", "27", "--currency", "EUR", "--expires", end)
    assert done.exit_code == 2


def test_a_rate_of_exchange_is_entered_as_the_price_of_a_currency(run, services):
    done = run("spot", "set", "1.0853", "--metal", "EUR", "--currency", "USD")
    assert done.stdout == "One EUR is 1.0853 USD from now on.\n"
    assert entries(services, "EUR")[0].price == Decimal("1.0853")
    assert "one EUR  1.0853 USD\n" in run("spot", "show", "--metal", "EUR").stdout


# Showing


def test_the_current_price_is_shown_with_its_age_in_words(run, clock):
    run("spot", "set", "27.50", "--currency", "EUR")
    clock.advance(hours=1, minutes=30)
    text = run("spot", "show").stdout
    assert "27.50 EUR a troy ounce" in text
    assert "1.5 hours\n" in text
    assert "entered by hand" in text
    assert "good to price with" in text
    assert "waiting" not in text
    document = json.loads(run("spot", "show", "--json").stdout)
    assert (document["price"], document["staleness"]) == ("27.50", "fresh")
    assert document["as_of"].startswith("2026-12-01T12:00:00")


def test_no_usable_price_ends_with_its_own_code(run):
    done = run("spot", "show")
    assert done.exit_code == 4
    assert "spot set" in done.stderr


@pytest.mark.parametrize(
    ("days", "code", "words"),
    [
        (1, 0, "good to price with"),
        (2, 0, "estimates warn of it"),
        (6, 4, "nothing is priced with it"),
    ],
)
def test_an_old_price_says_so_and_a_stale_one_has_its_own_code(
    run, clock, days, code, words
):
    run("spot", "set", "27.50", "--currency", "EUR")
    clock.advance(days=days)
    done = run("spot", "show")
    assert done.exit_code == code
    assert words in done.stdout
    if days == 6:  # from Tuesday to Monday, two days of which do not count
        assert "6 days (96 hours of open market)" in done.stdout
    assert run("spot", "show", "--json").exit_code == code


def test_the_last_entries_are_listed_newest_first(run):
    for price in ("26", "27", "28"):
        run("spot", "set", price, "--currency", "EUR")
    lines = run("spot", "show", "--history", 2).stdout.splitlines()
    assert len(lines) == 3
    assert "28.00" in lines[1]
    document = json.loads(run("spot", "show", "--history", 2, "--json").stdout)
    assert [each["price"] for each in document["spot_prices"]] == ["28.00", "27.00"]


def test_an_empty_history_says_how_to_begin(run):
    assert "spot set" in run("spot", "show", "--history", 5).stderr
    assert "no held price" in run("spot", "show", "--status", "held").stderr


@pytest.mark.parametrize(
    ("hours", "words"),
    [
        ("0.0", "just now"),
        ("0.1", "6 minutes"),
        ("1.0", "1 hour"),
        ("47.9", "47.9 hours"),
        ("48.0", "2 days"),
        ("73.5", "3 days and 1 hour"),
    ],
)
def test_an_age_is_told_as_a_person_says_it(hours, words):
    assert age(Decimal(hours)) == words


# Fetching


def test_a_fetched_price_is_told_with_what_is_in_force(run, fed):
    done = run("spot", "fetch")
    assert done.exit_code == 0
    first = done.stdout.splitlines()[0]
    assert first == "assay: 27.80 EUR of 2026-12-01 12:00 UTC counts, as entry 1"
    assert "first price of its kind" in done.stdout
    assert "feed 'assay'" in done.stderr
    assert "good to price with" in done.stderr


def test_a_program_is_given_the_results_alone(run, fed):
    done = run("spot", "fetch", "assay", "--json")
    [result] = json.loads(done.stdout)["results"]
    assert (result["outcome"], result["price"]) == ("accepted", "27.80")


def test_nothing_new_is_no_failure(run, fed):
    run("spot", "fetch")
    done = run("spot", "fetch")
    assert done.exit_code == 0
    assert "brings nothing new" in done.stdout


def test_without_a_feed_it_says_how_to_set_one_up(run):
    done = run("spot", "fetch")
    assert done.exit_code == ExitCode.SPOT_STALE
    assert "feeds load" in done.stderr


def test_what_could_not_be_fetched_has_its_reason_and_code(run, fed, post_office):
    run("spot", "set", "27.50", "--currency", "EUR")
    post_office.letters[FEED["url"]] = REFUSED
    done = run("spot", "fetch")
    assert done.exit_code == ExitCode.SPOT_STALE
    assert "assay: nothing could be read\n  - There is nothing." in done.stdout
    assert "27.50 EUR" in done.stderr


def test_a_refused_price_is_as_good_as_none(run, fed, post_office):
    run("spot", "set", "27.50", "--currency", "EUR")
    post_office.letters[FEED["url"]] = letter("2750")
    done = run("spot", "fetch")
    assert done.exit_code == ExitCode.SPOT_STALE
    assert "is refused" in done.stdout
    assert "far from the 27.50 expected" in done.stdout


def test_before_any_price_what_failed_says_that_there_is_none(run, fed, post_office):
    post_office.letters[FEED["url"]] = REFUSED
    done = run("spot", "fetch")
    assert done.exit_code == ExitCode.SPOT_STALE
    assert "no spot price of XAG is in force" in done.stderr


def test_one_feed_that_works_is_enough(run, fed):
    fed.feeds.put("other", FEED | {"url": "https://other.example/"}, expected=None)
    done = run("spot", "fetch")
    assert done.exit_code == 0
    assert "other: nothing could be read" in done.stdout


def test_an_unknown_feed_and_one_that_is_off_are_told_apart(run, fed):
    assert run("spot", "fetch", "asay").exit_code == ExitCode.FAILED
    fed.feeds.put("off", FEED | {"enabled": False}, expected=None)
    assert run("spot", "fetch", "off").exit_code == ExitCode.CONFLICT


def test_what_is_stale_stays_so_if_nothing_new_comes(run, fed, clock):
    run("spot", "fetch")
    clock.advance(days=6)
    done = run("spot", "fetch")  # the feed still says the price of last Tuesday
    assert done.exit_code == ExitCode.SPOT_STALE
    assert "nothing is priced with it" in done.stderr


# Deciding


@pytest.fixture
def held(run, fed, post_office):
    """A workshop in which entry 2 waits; what was told of it."""
    run("spot", "set", "27.50", "--currency", "EUR")
    post_office.letters[FEED["url"]] = letter("31")
    return run("spot", "fetch")


def test_a_held_price_has_its_own_code_and_says_how_to_decide(held, run):
    assert held.exit_code == ExitCode.FOUND
    assert "fineweight spot accept 2, or: fineweight spot reject 2" in held.stdout
    words = " ".join(held.stdout.split())
    assert "12.7273 % above the last accepted 27.50" in words
    assert "1 held price to decide" in run("spot", "show").stdout
    told = run("spot", "show", "--status", "held").stdout
    assert "31.00" in told
    assert "Entry 2 waits, because:" in told


def test_an_accepted_price_counts(held, run):
    done = run("spot", "accept", "2")
    assert done.stdout == "Entry 2, 31.00 EUR a troy ounce, counts from now on.\n"
    assert "31.00" in run("spot", "show").stdout
    assert run("spot", "reject", "2").exit_code == ExitCode.CONFLICT


def test_a_rejected_price_does_not(held, run):
    done = run("spot", "reject", "2", "--json")
    assert json.loads(done.stdout)["status"] == "rejected"
    assert "27.50" in run("spot", "show").stdout
    assert "rejected" in run("spot", "show", "--history", "5").stdout


@pytest.mark.parametrize(("entry", "code"), [("99", 1), ("1", 5), ("0", 2), ("x", 2)])
def test_only_what_waits_can_be_decided(held, run, entry, code):
    assert run("spot", "accept", entry).exit_code == code


def test_stale_goes_before_held(held, run, clock, post_office):
    clock.advance(days=6)
    at = (clock.now() - timedelta(minutes=1)).isoformat()
    post_office.letters[FEED["url"]] = letter("40", at)
    done = run("spot", "fetch")
    assert "is held as entry 3" in done.stdout
    assert done.exit_code == ExitCode.SPOT_STALE
