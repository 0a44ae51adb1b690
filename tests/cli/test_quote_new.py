"""`fineweight quote new`: one ring by options, sets from a file."""

from __future__ import annotations

import json
from decimal import Decimal

import pytest

from api.cli.exit_codes import ExitCode
from pricing.money import half_up
from tests.cli.quoting import PAIR, workshop
from tests.services.promising import COIN

CENT = Decimal("0.01")
LINE = {"coin": COIN, "size": {"system": "us", "size": "10"}}


@pytest.fixture
def services(tmp_path, clock):
    with workshop(tmp_path / "workshop.sqlite3", clock) as composed:
        yield composed


def test_a_ring_is_promised_and_shown(run, services):
    done = run("quote", "new", COIN, "10", "--deposit", "0.5", "--note", "For you.")
    assert (done.exit_code, done.stderr) == (0, "")
    quote = services.quotes.find("2026-0001")
    assert done.stdout == run("quote", "show", quote.number).stdout
    assert quote.customer_note == "For you."
    assert f"{quote.deposit}, due when it is accepted" in done.stdout
    assert quote.created_by


def test_every_option_reaches_the_quote(run, services):
    done = run(
        "quote", "new", COIN, "T 1/2", "--system", "uk", "--quantity", "3",
        "--channel", "fair", "--policy", "trade", "--extra", "engraving",
        "--extra", "box", "--hole", "15.875", "--coin-paid", "12",
        "--confidence", "0.99", "--spot", "30", "--note", "A note",
        "--deposit", "0.25", "--valid-hours", "48", "--show-spot", "--json",
    )  # fmt: skip
    assert done.exit_code == 0
    told = json.loads(done.stdout)
    [line] = told["lines"]
    assert line["wish"]["size"]["size"] == "T 1/2"
    assert line["wish"]["quantity"] == 3
    assert (line["wish"]["channel"], line["wish"]["policy"]) == ("fair", "trade")
    assert line["wish"]["extras"] == ["engraving", "box"]
    assert line["forming"]["hole_mm"] == "15.875"
    assert line["margin"]["on_paid"]["paid"] == "12"
    assert line["spot"]["price"] == "30"
    assert told["customer_note"] == "A note"
    assert told["show_spot"] is True
    assert told["valid_until"] == "2026-12-03T12:00:00.000Z"
    assert Decimal(told["deposit"]) == half_up(Decimal(told["total"]) / 4, CENT)
    assert told == services.quotes.document(services.quotes.find("2026-0001"))


def test_a_customer_may_bring_the_coin(run):
    told = json.loads(
        run("quote", "new", COIN, "8", "--own-coin", "4", "--json").stdout
    )
    assert told["lines"][0]["own_coin"]["compensation"] == "4"


def test_the_one_ring_costs_what_its_estimate_says(run):
    ring = json.loads(run("estimate", COIN, "10", "--json").stdout)
    told = json.loads(run("quote", "new", COIN, "10", "--json").stdout)
    assert told["lines"][0]["price"] == ring["price"]
    assert told["lines"][0]["cost"] == ring["cost"]


def test_a_set_is_promised_from_a_file(run, tmp_path, clock):
    file = tmp_path / "pair.toml"
    file.write_text(PAIR, "utf-8")
    told = json.loads(run("quote", "new", "--from", file, "--json").stdout)
    assert [line["wish"]["quantity"] for line in told["lines"]] == [1, 2]
    assert {line["spot"]["price"] for line in told["lines"]} == {"29.17"}
    assert told["customer_note"] == "Für zwei."
    assert Decimal(told["deposit"]) == half_up(Decimal(told["total"]) / 4, CENT)
    clock.advance(hours=48)
    assert run("quote", "accept", told["number"]).exit_code == ExitCode.CONFLICT


def test_a_set_is_promised_from_json_on_standard_input(run):
    body = {"lines": [LINE, LINE], "show_spot": False}
    done = run("quote", "new", "--from", "-", input=json.dumps(body))
    assert done.exit_code == 0
    assert done.stdout.count("size US 10 ") == 2


def test_every_fault_of_a_file_is_told_with_its_path(run, services):
    body = {
        "lines": [
            LINE | {"size": {"system": "us", "size": "999"}},
            LINE | {"quantity": 0, "spot": {"price": "-1"}},
            {"coin": COIN},
        ],
        "deposit": "0.5",
    }
    done = run("quote", "new", "--from", "-", input=json.dumps(body))
    assert (done.exit_code, done.stdout) == (1, "")
    first, *rest = done.stderr.splitlines()
    assert first == "Error: 5 values cannot be used"
    assert [line.strip().split(": ")[0] for line in rest] == [
        "deposit",
        "lines[0].size.size",
        "lines[1].quantity",
        "lines[1].spot.price",
        "lines[2].size",
    ]
    assert run("quote", "list", "--json").stdout == '{\n  "quotes": []\n}\n'


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"channel": "fair"}, "lines[1].channel"),
        ({"channel": "nowhere"}, "lines[1].channel"),
        ({"coin": "no_such_coin"}, "lines[1].coin"),
        ({"spot": {"price": "31"}}, "lines[1].spot.price"),
        ({"hole_mm": "15", "band_width_mm": "9"}, "band_width_mm"),
    ],
)
def test_what_does_not_fit_together_is_told_with_its_path(run, change, said):
    body = {"lines": [LINE | {"spot": {"price": "30"}}, LINE | change]}
    done = run("quote", "new", "--from", "-", input=json.dumps(body))
    assert done.exit_code == 1
    assert f"{said}: " in done.stderr


def test_a_file_that_is_neither_toml_nor_json_is_a_usage_error(run):
    done = run("quote", "new", "--from", "-", input="lines, please")
    assert done.exit_code == 2
    assert "no description of a quote" in done.stderr


@pytest.mark.parametrize(
    ("beside", "named"),
    [
        ((COIN,), "COIN"),
        ((COIN, "10"), "COIN, SIZE"),
        (("--quantity", "1"), "--quantity"),
        (("--note", "", "--show-spot"), "--note, --show-spot"),
    ],
)
def test_nothing_of_a_quote_stands_beside_a_file(run, beside, named):
    done = run("quote", "new", *beside, "--from", "-", input=PAIR)
    assert done.exit_code == 2
    assert f"{named} cannot stand beside --from" in done.stderr


@pytest.mark.parametrize("given", [(), (COIN,)])
def test_a_coin_and_a_size_are_needed_without_a_file(run, given):
    done = run("quote", "new", *given)
    assert done.exit_code == 2
    assert "--from FILE" in done.stderr


@pytest.mark.parametrize(
    "given",
    [("--valid-hours", "0"), ("--valid-hours", "8761"), ("--deposit", "half")],
)
def test_an_option_out_of_range_is_a_usage_error(run, given):
    assert run("quote", "new", COIN, "10", *given).exit_code == 2


@pytest.mark.parametrize(
    ("given", "said"),
    [
        (("--deposit", "1.5"), "deposit_share: "),
        (("--note", "a\x1bb"), "customer_note: "),
        (("--channel", "nowhere"), "channel: "),
    ],
)
def test_a_figure_that_cannot_be_is_refused_with_its_path(run, given, said):
    done = run("quote", "new", COIN, "10", *given)
    assert done.exit_code == 1
    assert said in done.stderr


def test_a_stale_spot_ends_with_4(run, clock):
    clock.advance(days=30)
    done = run("quote", "new", COIN, "10")
    assert done.exit_code == ExitCode.SPOT_STALE
    assert run("quote", "new", COIN, "10", "--spot", "28").exit_code == 0
