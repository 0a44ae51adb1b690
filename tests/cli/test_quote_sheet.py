"""`fineweight quote sheet`: what a customer is shown, as a letter and as a file."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import date
from decimal import Decimal

import click
import pytest

from api.cli.quote_sheet import WIDTH, letter
from api.schemas.customer_sheet import CustomerSheetDocument
from tests.cli.quoting import PAIR, promise, workshop
from tests.cli.test_output import TRICKS
from tests.http.sheets import SHEET

COSTS = ("net", "cost", "fees", "margin", "bench_hours")


@pytest.fixture
def services(tmp_path, clock):
    with workshop(tmp_path / "workshop.sqlite3", clock) as composed:
        yield composed


@pytest.fixture
def pair(run, services):
    """The number of a pair that is promised."""
    run("quote", "new", "--from", "-", input=PAIR)
    return services.quotes.find("2026-0001").number


def test_a_letter_holds_what_the_customer_has_to_know(run, services, pair):
    done = run("quote", "sheet", pair)
    assert done.exit_code == 0
    quote = services.quotes.find(pair)
    sheet = services.quotes.sheet(quote)
    told = done.stdout
    assert told.startswith("A bench\nQuote 2026-0001 of 2026-12-01,\nvalid until ")
    assert "valid until 2026-12-03 13:00 (Europe/Vienna)\n" in told
    assert f"Ready by {sheet.make_by}\n" in told
    assert "1 × Austria 50 schilling, .900, size US 10\n" in told
    assert "2 × Austria 50 schilling, .900, size UK M, with Engraved inside\n" in told
    each = sheet.pieces[1]
    assert f"    {each.unit} each, {each.total} EUR\n    Your own coin. About" in told
    for amount in (sheet.goods, sheet.shipping, sheet.total, sheet.tax, sheet.deposit):
        assert f"  {amount}\n" in told
    assert "Reckoned with silver at 29.17 EUR a troy ounce" in told
    assert "\nFür zwei.\n" in told
    for caution in sheet.cautions:
        assert caution.text[:30] in told.replace("\n  ", " ")


def test_the_address_of_the_page_is_told_beside_the_letter(run, services, pair):
    done = run("quote", "sheet", pair)
    address = f"/quotes/{services.quotes.find(pair).sheet_token}"
    assert address in done.stderr
    assert address not in done.stdout


def test_no_cost_is_on_any_of_them(run, services, pair, tmp_path):
    file = tmp_path / "sheet.html"
    texts = [
        run("quote", "sheet", pair).output,
        run("quote", "sheet", pair, "--json").output,
        run("quote", "sheet", pair, "--output", file).output,
        file.read_text("utf-8"),
    ]
    document = services.quotes.document(services.quotes.find(pair))
    secrets = {document[name] for name in COSTS}
    for line in document["lines"]:
        secrets |= {line["cost"]["per_piece"], line["cost"]["attended_minutes"]}
        secrets |= {each["amount"] for each in line["cost"]["lines"]}
    public = {document["total"], document["tax"], document["shipping"]}
    assert len(secrets) > 12
    for text in texts:
        assert not {one for one in secrets - public if f" {one}" in text}
        assert "37.19" not in text


def test_the_file_needs_nothing_beside_it(run, pair, tmp_path):
    file = tmp_path / "a folder" / "sheet.html"
    file.parent.mkdir()
    done = run("quote", "sheet", pair, "--output", file)
    assert (done.exit_code, done.stdout) == (0, "")
    assert f"Written to {file}" in done.stderr
    page = file.read_text("utf-8")
    assert page.startswith("<!doctype html>")
    assert "Total to pay" in page
    assert "<link" not in page


def test_a_file_is_written_anew(run, services, pair, tmp_path):
    file = tmp_path / "sheet.html"
    run("quote", "sheet", pair, "--output", file)
    assert "<strong>Open.</strong>" in file.read_text("utf-8")
    services.quotes.accept(services.quotes.find(pair).id, expected=1)
    run("quote", "sheet", pair, "--output", file)
    assert "<strong>Accepted</strong>" in file.read_text("utf-8")


def test_the_file_can_go_to_standard_output(run, pair):
    done = run("quote", "sheet", pair, "--output", "-")
    assert done.stdout.startswith("<!doctype html>")
    assert "Written to" not in done.stderr


def test_json_is_the_document_of_the_api(run, services, pair, tmp_path):
    sheet = services.quotes.sheet(services.quotes.find(pair))
    file = tmp_path / "sheet.html"
    for more in ((), ("--output", file)):
        told = json.loads(run("quote", "sheet", pair, "--json", *more).stdout)
        assert told == CustomerSheetDocument().dump(sheet)
    assert file.exists()


def test_one_output_is_for_one_thing(run, pair):
    done = run("quote", "sheet", pair, "--json", "--output", "-")
    assert (done.exit_code, done.stdout) == (2, "")


def test_a_file_that_cannot_be_written_is_a_usage_error(run, pair, tmp_path):
    done = run("quote", "sheet", pair, "--output", tmp_path / "nowhere" / "a.html")
    assert done.exit_code == 2
    assert "cannot be written: " in done.stderr


def test_what_is_not_there_ends_with_1(run):
    assert run("quote", "sheet", "2026-0009").exit_code == 1


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"status": "open"}, "valid until 2026-11-28 14:30"),
        ({"status": "expired"}, "expired on 2026-11-28 14:30 (Europe/Vienna); these"),
        ({"status": "accepted"}, "accepted on 2026-11-26 10:00 (Europe/Vienna)\n"),
        ({"status": "declined"}, "declined on 2026-11-26 10:00"),
        ({"status": "renewed"}, "replaced on 2026-11-26 10:00"),
        ({"status": "renewed", "renewed_by": "2026-0099"}, "2026-0099 took its place"),
        ({"renews": None}, "pieces"),
        (
            {"tax_inclusive": True},
            "total to pay                1251.75\ntax of 20 %, in",
        ),
        ({"tax_inclusive": False}, "added           208.63\ntotal to pay"),
    ],
)
def test_every_state_is_told_in_words(change, said):
    decided = SHEET.created_at.replace(day=26, hour=9, minute=0)
    done = change.get("status") in {"accepted", "declined", "renewed"}
    shown = replace(SHEET, decided_at=decided if done else None, **change)
    assert said in letter(shown)


@pytest.mark.parametrize(
    ("change", "gone"),
    [
        ({"tax_rate": Decimal(0)}, "tax"),
        ({"deposit": None}, "deposit"),
        ({"make_by": None}, "Ready by"),
        ({"status": "expired"}, "Ready by"),
        ({"spot": None}, "silver at"),
        ({"renews": None}, "takes the place"),
        ({"customer_note": ""}, "Measure"),
        ({"cautions": ()}, "- "),
    ],
)
def test_what_a_sheet_does_not_have_is_left_out(change, gone):
    assert gone in letter(SHEET)
    told = letter(replace(SHEET, **change))
    assert gone not in told
    assert "\n\n\n" not in told


def test_a_price_of_an_unknown_time_is_told_without_one():
    shown = replace(SHEET, spot=replace(SHEET.spot, as_of=None))
    assert "at 27.50 EUR a troy ounce.\n" in letter(shown)


def test_a_line_fits_a_letter():
    shown = replace(SHEET, make_by=date(2026, 12, 18), customer_note="")
    assert max(map(len, letter(shown).splitlines())) <= WIDTH


@pytest.mark.parametrize("trick", TRICKS.values(), ids=TRICKS)
def test_nothing_that_was_written_moves_the_cursor(trick):
    forged = f"ring{trick}total to pay  1.00"
    piece = replace(SHEET.pieces[0], coin=forged, extras=(forged,))
    note = "" if trick == "\n" else forged
    shown = replace(SHEET, workshop=forged, pieces=(piece,), customer_note=note)
    lines = click.unstyle(letter(shown)).split("\n")
    assert all(line.isprintable() for line in lines)
    assert not any(line.startswith("total to pay  1.00") for line in lines)


def test_blanks_of_every_width_are_blanks_in_a_letter():
    shown = replace(SHEET, customer_note="40\u202f000\xa0€ or\u2003less")
    assert "40 000 € or less" in letter(shown)


def test_a_note_in_persian_and_with_joined_emoji_comes_as_it_is_written(run, services):
    note = "می\u200cخواهم 👩\u200d🔧\tدو"
    promise(services, customer_note=note)
    done = run("quote", "sheet", "2026-0001")
    assert note.replace("\t", " ") in done.stdout
