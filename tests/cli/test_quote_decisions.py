"""`fineweight quote accept`, `decline` and `renew`: once, and on what was seen."""

from __future__ import annotations

import json
from contextlib import closing
from dataclasses import replace
from decimal import Decimal

import pytest
from click.testing import CliRunner

from api.app import compose, upgrade
from api.cli import main
from api.cli.exit_codes import ExitCode
from api.services.quotes.terms import LineAsk, QuoteTerms
from api.settings import Settings
from pricing.ring_size import ring_size
from pricing.wish import Wish
from tests.cli.quoting import COIN, PAIR, fill, promise, workshop
from tests.services.promising import BASE, BOOK


@pytest.fixture
def services(tmp_path, clock):
    with workshop(tmp_path / "workshop.sqlite3", clock) as composed:
        yield composed


@pytest.fixture
def meanwhile(services):
    """Runs a command; another decides between its reading and its writing."""

    class Between:
        def __init__(self, decide):
            self.decide = decide

        def __getattr__(self, name):
            return getattr(services.quotes, name)

        def find(self, name):
            found = services.quotes.find(name)
            self.decide(found)
            return found

    def meanwhile(decide, *arguments):
        given = replace(services, quotes=Between(decide))
        return CliRunner().invoke(main, ["quote", *arguments], obj=given)

    return meanwhile


def status(services, name="2026-0001"):
    return services.quotes.status(services.quotes.find(name))


def test_an_accepted_quote_says_what_to_do_now(run, services):
    quote = promise(services, deposit_share=Decimal("0.5"))
    done = run("quote", "accept", quote.number)
    assert (done.exit_code, done.stderr) == (0, "")
    told = done.stdout
    assert told.startswith(f"Quote 2026-0001 is accepted: {quote.total} EUR.\n")
    assert f"due now               {quote.deposit} EUR\n" in told
    assert "coins to start        Austria 50 schilling, .900: " in told
    assert f"ready by              {quote.make_by}\n" in told
    assert f"/quotes/{quote.sheet_token}" in told
    assert status(services) == "accepted"


def test_without_a_deposit_nothing_is_due(run, services):
    quote = promise(services)
    assert "due now" not in run("quote", "accept", quote.id).stdout


def test_a_decline_keeps_its_reason(run, services):
    promise(services)
    done = run("quote", "decline", "2026-0001", "--reason", "  Too dear. ")
    assert done.stdout == "Quote 2026-0001 is declined: Too dear.\n"
    assert services.quotes.find("2026-0001").reason == "Too dear."


def test_a_decline_needs_no_reason(run, services):
    promise(services)
    told = run("quote", "decline", "2026-0001").stdout
    assert told == "Quote 2026-0001 is declined.\n"


def test_a_renewal_shows_both_prices_and_their_difference(run, services):
    run("quote", "new", "--from", "-", input=PAIR)
    old = services.quotes.find("2026-0001")
    done = run("quote", "renew", "2026-0001", "--spot", "60", "--valid-hours", "5")
    assert done.exit_code == 0
    new = services.quotes.find("2026-0002")
    both, _, whole = done.stdout.partition("\n\nQuote 2026-0002: open\n")
    assert both.startswith("Quote 2026-0002 takes the place of 2026-0001.\n")
    rows = [line.split() for line in both.splitlines()[2:]]
    assert rows[0] == ["price", "before", "now", "difference"]
    assert rows[1][-5:-3] == [
        services.quotes.document(each)["lines"][0]["price"]["unit"]
        for each in (old, new)
    ]
    assert rows[2][-1] == "none"  # the customer's own coin, whatever silver costs
    change = new.total - old.total
    assert rows[3][:4] == ["total", str(old.total), str(new.total), f"+{change}"]
    assert rows[4] == [
        "silver,", "a", "troy", "ounce", "29.17", "60.00", "+30.83", "(105.7", "%)",
    ]  # fmt: skip
    assert "valid until      2026-12-01 18:00" in whole
    assert f"in the place of  2026-0001, {old.total} EUR" in whole


def test_a_renewal_takes_the_price_in_force(run, services):
    promise(services)
    services.spot_prices.enter("XAG", Decimal(20), "EUR")
    told = json.loads(run("quote", "renew", "2026-0001", "--json").stdout)
    assert told["lines"][0]["spot"]["price"] == "20.00"
    assert told["renews"]["number"] == "2026-0001"


def test_a_lower_price_is_told_with_its_sign(run, services):
    promise(services)
    told = run("quote", "renew", "2026-0001", "--spot", "10").stdout
    [row] = [line for line in told.splitlines() if line.startswith("silver,")]
    assert row.split()[4:] == ["27.53", "10.00", "-17.53", "(-63.7", "%)"]


def test_prices_of_two_currencies_are_not_compared(run, services):
    promise(services)
    book = json.loads(services.price_books.stored().document)
    services.price_books.replace(book | {"currency": "USD"}, expected=1)
    told = run("quote", "renew", "2026-0001", "--spot", "30").stdout
    assert "in                                         EUR" in told
    assert "%)" not in told


def test_a_ring_without_silver_is_renewed_without_a_price_of_it(run, sqlite_url, clock):
    with closing(compose(Settings(database=sqlite_url), clock=clock)) as bare:
        bare.price_books.replace(BOOK, expected=None)
        ask = LineAsk(coin=BASE, wish=Wish(size=ring_size("us", "10")))
        bare.quotes.create([ask], QuoteTerms())
        shown = run("quote", "show", "2026-0001", given=bare).stdout
        told = run("quote", "renew", "2026-0001", given=bare).stdout
    assert "silver" not in shown
    assert "silver" not in told
    assert "none" in told


@pytest.mark.parametrize("command", ["accept", "decline"])
@pytest.mark.parametrize("first", ["accept", "decline", "renew"])
def test_a_second_decision_ends_with_5(run, services, first, command):
    promise(services)
    assert run("quote", first, "2026-0001").exit_code == 0
    before = services.quotes.find("2026-0001")
    done = run("quote", command, "2026-0001")
    assert (done.exit_code, done.stdout) == (ExitCode.CONFLICT, "")
    assert "2026-0001 is " in done.stderr
    assert services.quotes.find("2026-0001") == before


@pytest.mark.parametrize("first", ["accept", "renew"])
def test_what_is_final_is_not_renewed(run, services, first):
    promise(services)
    run("quote", first, "2026-0001")
    assert run("quote", "renew", "2026-0001").exit_code == ExitCode.CONFLICT


def test_what_has_expired_can_only_be_renewed(run, services, clock):
    promise(services, valid_hours=1)
    clock.advance(hours=1)
    for command in ("accept", "decline"):
        done = run("quote", command, "2026-0001")
        assert done.exit_code == ExitCode.CONFLICT
        assert "renew it" in done.stderr
    assert run("quote", "renew", "2026-0001").exit_code == 0
    assert status(services, "2026-0002") == "open"


def test_a_renewal_at_a_stale_price_ends_with_4_and_changes_nothing(
    run, services, clock
):
    promise(services)
    clock.advance(days=30)
    assert run("quote", "renew", "2026-0001").exit_code == ExitCode.SPOT_STALE
    assert status(services) == "expired"


@pytest.mark.parametrize("command", ["accept", "decline", "renew"])
class TestVersions:
    def test_the_named_version_has_to_be_the_present_one(self, run, services, command):
        promise(services)
        done = run("quote", command, "2026-0001", "--if-version", "2")
        assert done.exit_code == ExitCode.CONFLICT
        assert "at version 1, not 2" in done.stderr
        assert status(services) == "open"
        done = run("quote", command, "2026-0001", "--if-version", "1")
        assert done.exit_code == 0

    def test_a_decision_in_between_is_not_overruled(self, services, meanwhile, command):
        promise(services)

        def decide(seen):
            services.quotes.decline(seen.id, expected=1, reason="The other was first.")

        done = meanwhile(decide, command, "2026-0001")
        assert (done.exit_code, done.stdout) == (ExitCode.CONFLICT, "")
        assert "at version 2, not 1" in done.stderr
        assert services.quotes.find("2026-0001").reason == "The other was first."
        assert status(services) == "declined"

    def test_json_is_the_document_of_the_api(self, run, services, command):
        promise(services)
        told = json.loads(run("quote", command, "2026-0001", "--json").stdout)
        assert told == services.quotes.document(services.quotes.find(told["number"]))

    def test_what_is_not_there_ends_with_1(self, run, command):
        assert run("quote", command, "2026-0007").exit_code == ExitCode.FAILED


def test_a_quote_lives_on_either_database(any_database, clock):
    settings = Settings(database=any_database)
    upgrade(settings)
    with closing(compose(settings, clock=clock)) as services:
        fill(services)

        def run(*arguments):
            return CliRunner().invoke(main, ["quote", *arguments], obj=services)

        assert run("new", COIN, "10", "--note", "Für zwei").exit_code == 0
        assert run("renew", "2026-0001", "--spot", "33").exit_code == 0
        assert run("accept", "2026-0002").exit_code == 0
        assert run("accept", "2026-0002").exit_code == ExitCode.CONFLICT
        rows = run("list", "--text", "FÜR").stdout.splitlines()[1:]
        assert [row.split()[:2] for row in rows] == [
            ["2026-0002", "accepted"],
            ["2026-0001", "renewed"],
        ]
