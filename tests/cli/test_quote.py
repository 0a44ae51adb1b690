"""`fineweight quote list` and `show`: what was promised, for the maker's eyes."""

from __future__ import annotations

import json
from dataclasses import replace
from decimal import Decimal

import pytest
from click.testing import CliRunner

from api.cli import main
from api.ports import QuoteFilter
from tests.cli.quoting import PAIR, promise, workshop
from tests.cli.test_output import TRICKS


@pytest.fixture
def services(tmp_path, clock):
    with workshop(tmp_path / "workshop.sqlite3", clock) as composed:
        yield composed


def test_quotes_are_listed_newest_first_with_what_became_of_them(run, services, clock):
    first = promise(services, valid_hours=1)
    second = promise(services, customer_note="Engraved:\nfor two.")
    services.quotes.accept(second.id, expected=1)
    clock.advance(hours=2)
    done = run("quote", "list")
    assert (done.exit_code, done.stderr) == (0, "")
    heading, accepted, expired = done.stdout.splitlines()
    assert heading.split()[:2] == ["number", "status"]
    assert accepted.split()[:2] == [second.number, "accepted"]
    assert accepted.endswith("Engraved: for two.")
    assert expired.split()[:2] == [first.number, "expired"]
    assert "2026-12-01 13:00 CET  2026-12-01 14:00 CET" in expired
    assert str(first.total) in expired


def test_a_long_note_is_cut_in_the_list(run, services):
    promise(services, customer_note="ring " * 20)
    line = run("quote", "list").stdout.splitlines()[1]
    assert line.endswith("…")
    assert line.count("ring") == 8


@pytest.mark.parametrize(
    ("options", "found"),
    [
        (("--status", "open"), ["2026-0003"]),
        (("--status", "declined"), ["2026-0001"]),
        (("--text", "TWO"), ["2026-0002"]),
        (("--text", "2026-0001"), ["2026-0001"]),
        (("--text", "%"), []),
        (("--limit", "2"), ["2026-0003", "2026-0002"]),
    ],
)
def test_the_list_can_be_narrowed(run, services, options, found):
    declined = promise(services)
    accepted = promise(services, customer_note="for two")
    promise(services)
    services.quotes.decline(declined.id, expected=1)
    services.quotes.accept(accepted.id, expected=1)
    done = run("quote", "list", *options, "--json")
    told = json.loads(done.stdout)["quotes"]
    assert [each["number"] for each in told] == found
    assert ("There are older ones" in done.stderr) == ("--limit" in options)
    assert ("no such quote" in done.stderr) == (not found)


def test_json_of_the_list_is_as_the_api_gives_it(run, services):
    promise(services)
    page = services.quotes.page(QuoteFilter(now=services.clock.now()), limit=9)
    told = json.loads(run("quote", "list", "--json").stdout)
    assert told == {"quotes": services.quotes.summaries(page.quotes)}


@pytest.mark.parametrize("given", [("--limit", "0"), ("--limit", "101")])
def test_a_limit_out_of_range_is_a_usage_error(run, given):
    assert run("quote", "list", *given).exit_code == 2


def test_all_of_a_quote_is_shown_with_its_costs(run, services):
    run("quote", "new", "--from", "-", input=PAIR)
    document = services.quotes.document(services.quotes.find("2026-0001"))
    told = run("quote", "show", "2026-0001").stdout
    assert told.startswith("Quote 2026-0001: open\n")
    assert "valid until  2026-12-03 13:00 (Europe/Vienna)" in told
    assert "size US 10 " in told
    assert "size UK M, with Engraved inside " in told
    assert "UK M, own coin. About" in told
    for line in document["lines"]:
        figures = [line["price"]["unit"], line["price"]["total"]]
        row = rf"{line['wish']['quantity']}  "
        assert all(figure in told for figure in (*figures, line["cost"]["per_piece"]))
        assert row in told
    for name in ("goods", "shipping", "tax", "total", "deposit", "net", "fees", "cost"):
        assert f" {document[name]}" in told
    assert f"margin          {document['margin']}, " in told
    assert f"bench hours     {document['bench_hours']}\n" in told
    assert "coins to start  Austria 50 schilling, .900: " in told
    assert f"ready by        {document['make_by']}\n" in told
    assert "silver          29.17 a troy ounce\n" in told
    assert "  Für zwei.\n" in told
    assert told.endswith(f"The customer's sheet: {document['sheet']}\n")
    assert "Cost of one" not in told


def test_the_lines_of_each_cost_add_up(run, services):
    promise(services)
    told = run("quote", "show", "2026-0001", "--lines").stdout
    table = told.partition("Cost of one")[2].partition("The customer's sheet")[0]
    head, *rows = table.strip().splitlines()[1:]
    assert head.split() == ["what", "EUR", "how"]
    start = head.index("EUR") + 3
    amounts = [Decimal(row[:start].split()[-1]) for row in rows]
    assert len(amounts) > 4
    assert sum(amounts[:-1]) == amounts[-1]
    quote = services.quotes.find("2026-0001")
    [line] = services.quotes.document(quote)["lines"]
    assert str(amounts[-1]) == line["cost"]["per_piece"]


def test_the_lines_of_every_piece_are_listed(run):
    run("quote", "new", "--from", "-", input=PAIR)
    told = run("quote", "show", "2026-0001", "--lines").stdout
    assert told.count("Cost of one Austria 50 schilling, .900, size") == 2


def test_what_a_quote_does_not_have_is_left_out(run, services):
    version = services.price_books.current().version
    book = services.price_books.stored().document
    changed = json.loads(book)
    del changed["labour"]["hours_per_week"]
    changed["channels"][0]["tax"] = {"rate": "0.20", "inclusive": False}
    services.price_books.replace(changed, expected=version)
    promise(services)
    told = run("quote", "show", "2026-0001").stdout
    for name in ("deposit", "ready by", "Note to", "in the place of", "replaced by"):
        assert name not in told
    assert "20 % on top, in the total" in told


def test_who_decided_when_and_why_is_told(run, services):
    promise(services)
    run("quote", "decline", "2026-0001", "--reason", "Too dear.")
    told = run("quote", "show", "2026-0001").stdout
    assert told.startswith("Quote 2026-0001: declined\n")
    assert "was valid until" in told
    assert "declined         2026-12-01 13:00 (Europe/Vienna) by " in told
    assert "because          Too dear." in told


def test_quotes_that_take_each_others_place_name_each_other(run, services):
    old = promise(services)
    new = services.quotes.renew(old.id, expected=1, spot_price=Decimal(60))
    assert (
        f"replaced by      {new.number}, {new.total} EUR"
        in run("quote", "show", old.id).stdout
    )
    assert (
        f"in the place of  {old.number}, {old.total} EUR"
        in run("quote", "show", new.number).stdout
    )


def test_json_is_the_document_of_the_api(run, services):
    quote = promise(services, deposit_share=Decimal("0.5"))
    told = json.loads(run("quote", "show", quote.number, "--json").stdout)
    assert told == services.quotes.document(quote)


def test_what_is_not_there_is_said_and_ends_with_1(run):
    done = run("quote", "show", "2026-0009")
    assert (done.exit_code, done.stdout) == (1, "")
    assert "there is no quote '2026-0009'" in done.stderr


@pytest.mark.parametrize(
    "arguments",
    [("show", "\udcff"), ("list", "--text", "\udcff"), ("accept", "\udcff")],
)
def test_bytes_that_are_no_text_are_a_usage_error(run, arguments):
    done = run("quote", *arguments)
    assert done.exit_code == 2
    assert "no text" in done.stderr


@pytest.mark.parametrize("trick", TRICKS.values(), ids=TRICKS)
def test_nothing_a_customer_wrote_moves_the_cursor(services, trick):
    made = promise(services)
    forged = f"ring{trick}2026-0009  accepted"

    class Forged:
        """The workshop's quotes, with a note and a reason that were never checked."""

        def __getattr__(self, name):
            return getattr(services.quotes, name)

        def find(self, _):
            return replace(made, customer_note=forged, reason=forged)

        def page(self, *_, **__):
            found = services.quotes.page(QuoteFilter(now=made.created_at), limit=1)
            return replace(found, quotes=(self.find(""),))

    given = replace(services, quotes=Forged())
    for command in (("list",), ("show", "x"), ("list", "--json")):
        told = CliRunner().invoke(main, ["quote", *command], obj=given).stdout
        assert "accepted" in told
        assert all(sign.isprintable() or sign == "\n" for sign in told)
        if trick != "\n":
            assert f"ring{trick}" not in told
        else:
            assert not any(row.startswith("2026-0009") for row in told.splitlines())


def test_an_id_may_begin_with_a_hyphen(run, services, monkeypatch):
    monkeypatch.setattr(
        "api.services.quotes.quotes.new_id", lambda: "-Y09UoUxl9KfUY3DdsSQ9w"
    )
    quote = promise(services)
    assert run("quote", "show", quote.id).exit_code == 2
    assert "2026-0001" in run("quote", "show", "--", quote.id).stdout


def test_a_group_without_a_command_shows_examples(run):
    assert "fineweight quote new --from pair.toml" in run("quote", "--help").stdout
