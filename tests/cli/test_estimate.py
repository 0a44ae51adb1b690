from __future__ import annotations

import json
import re
import tomllib
from decimal import Decimal
from pathlib import Path

import pytest

from api.app import compose
from api.cli.exit_codes import ExitCode
from api.settings import Settings

BOOK = Path(__file__).resolve().parents[2] / "demo" / "price_book.toml"
COIN = "at_50s_1959_1973"


@pytest.fixture
def services(tmp_path, clock):
    settings = Settings(database=str(tmp_path / "workshop.sqlite3"))
    composed = compose(settings, clock=clock)
    document = tomllib.loads(BOOK.read_text("utf-8"))
    composed.price_books.replace(document, expected=None)
    composed.spot_prices.enter("XAG", Decimal("27.50"), "EUR")
    return composed


def test_the_sheet_names_the_price_and_the_cost_that_its_lines_add_up_to(run):
    told = run("estimate", COIN, "8.5").output
    assert re.search(r"^Price \d+\.\d\d EUR$", told, re.MULTILINE)
    lines = told.partition("Cost of one good ring [EUR]\n")[2].partition("\n\n")[0]
    amounts = re.findall(r"^  \S.*?  +(-?\d+\.\d\d)(?:  |$)", lines, re.MULTILINE)
    *parts, total = map(Decimal, amounts)
    assert len(parts) > 5
    assert sum(parts) == total


def test_every_line_lists_materials_that_are_else_in_one(run):
    assert "Materials (" in run("estimate", COIN, "8.5").output
    every = run("estimate", COIN, "8.5", "--every-line").output
    assert "Materials (" not in every
    assert "PTFE tape  " in every


def test_json_is_the_document_of_the_api(run):
    told = json.loads(run("estimate", COIN, "T 1/2", "--system", "uk", "--json").output)
    assert told["wish"]["size"] == {"system": "uk", "size": "T 1/2", "us": "9.919075"}
    assert told["spot"]["price"] == "27.50"
    assert Decimal(told["price"]["unit"]) > Decimal(told["cost"]["per_piece"])


def test_every_option_reaches_the_wish(run):
    told = json.loads(
        run(
            "estimate", COIN, "8", "--quantity", "5", "--channel", "craft_fair",
            "--policy", "trade", "--extra", "ring_box", "--hole", "15.875",
            "--confidence", "0.99", "--coin-paid", "12", "--spot", "30", "--risk",
            "--json",
        ).output
    )  # fmt: skip
    wish = told["wish"]
    assert (wish["quantity"], wish["channel"]) == (5, "craft_fair")
    assert (wish["policy"], wish["extras"]) == ("trade", ["ring_box"])
    assert told["forming"]["hole_mm"] == "15.875"
    assert told["spoilage"]["coins_to_start"][0]["confidence"] == "0.99"
    assert told["margin"]["on_paid"]["paid"] == "12"
    assert told["spot"]["price"] == "30"
    assert told["risk"]["orders"] > 0


def test_a_band_width_is_snapped_to_a_punch(run):
    told = json.loads(run("estimate", COIN, "8", "--width", "9", "--json").output)
    assert told["forming"]["hole_mm"] == "15.875"
    assert "nearest punch" in told["forming"]["hole_why"]


def test_an_own_coin_is_told_in_plain_words(run):
    told = run("estimate", COIN, "8", "--own-coin", "40").output
    assert "Compensation for a lost coin" in told
    assert "in 100 coins fail" in told
    assert "If silver moves" not in told


def test_the_risk_and_the_margin_on_paid_are_told(run):
    told = run("estimate", COIN, "8", "--risk", "--coin-paid", "9.50").output
    assert "Risk of this order" in told
    assert "with the coin at 9.50 as paid" in told


def test_a_coin_that_is_stretched_says_so(run):
    assert "stretch" in run("estimate", "us_quarter_1932_1964", "7").output


def test_what_is_no_number_is_refused_as_usage(run):
    result = run("estimate", COIN, "8", "--spot", "1e3")
    assert result.exit_code == ExitCode.USAGE
    assert "not a plain decimal number" in result.output


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("at_50s", "8"), "at_50s_1959_1973"),
        ((COIN, "99"), "US 24"),
        ((COIN, "8", "--channel", "moon"), "own_shop"),
        (("us_dime_1892_1964", "12"), "nearest size"),
    ],
)
def test_a_refusal_says_what_to_do(run, arguments, words):
    result = run("estimate", *arguments)
    assert result.exit_code == ExitCode.FAILED
    assert words in result.output


def test_without_a_spot_price_the_code_says_so(run, tmp_path):
    empty = compose(Settings(database=str(tmp_path / "empty.sqlite3")))
    document = tomllib.loads(BOOK.read_text("utf-8"))
    empty.price_books.replace(document, expected=None)
    result = run("estimate", COIN, "8", given=empty)
    assert result.exit_code == ExitCode.SPOT_STALE
    assert "enter one" in result.output


def test_an_old_price_is_minded_and_a_stale_one_refused(run, clock):
    clock.advance(days=2)
    told = run("estimate", COIN, "8")
    assert told.exit_code == 0
    assert "48.0 hours of open market old" in " ".join(told.output.split())
    clock.advance(days=4)
    refused = run("estimate", COIN, "8")
    assert refused.exit_code == ExitCode.SPOT_STALE
    assert "96.0 hours of open market old" in refused.stderr
    assert run("estimate", COIN, "8", "--spot", "27.50").exit_code == 0


def test_a_converted_price_shows_the_rate_and_where_it_is_from(run, clock):
    run("spot", "set", "30", "--currency", "USD")
    run("spot", "set", "1.25", "--metal", "EUR", "--currency", "USD")
    clock.advance(hours=3)
    told = run("estimate", COIN, "8").output
    assert "Silver at 24.00 EUR a troy ounce (manual, 3 hours old)" in told
    assert "from 30.00 USD at 1.25 USD for one EUR (manual, 3 hours old)" in told


def test_with_a_history_the_sheet_says_how_long_a_quote_may_hold(run, clock):
    for day in range(14):
        run("spot", "set", f"{27 + day % 2}.50")
        clock.advance(days=1)
    told = run("estimate", COIN, "8").output
    assert re.search(r"A quote may hold [0-9.]+ hours, as it moved over 10 days", told)
