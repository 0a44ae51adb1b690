"""`fineweight reprice apply` and `undo`: asked for, done whole, or not at all."""

from __future__ import annotations

import json
from decimal import Decimal
from unittest.mock import patch

import pytest

from api.cli.exit_codes import ExitCode
from api.cli.serve import _recover
from api.services.repricings.pace import Pace
from tests.cli.repricing import stocked


class Killed(BaseException):
    """Ends a process in the middle."""


@pytest.fixture
def shop(tmp_path, clock):
    with stocked(tmp_path / "shop.sqlite3", clock) as made:
        yield made


@pytest.fixture
def services(shop):
    return shop.services


@pytest.fixture
def preview(shop):
    return shop.repricings.preview()


@pytest.fixture
def at_terminal():
    with patch("api.cli.reprice_decisions._at_terminal", lambda: True):
        yield


def test_apply_says_how_many_prices_changed_and_how_to_take_them_back(
    run, shop, preview
):
    done = run("reprice", "apply", preview.id, "--yes")
    assert (done.exit_code, done.stderr) == (0, "")
    assert done.stdout == (
        "3 bands have their new prices.\n"
        f"Take it back: fineweight reprice undo {preview.id}\n"
    )
    assert shop.prices()["raise", 5] == shop.asked()
    assert shop.prices()["wait", 5] == 100


def test_a_preview_by_another_price_book_ends_with_code_5(run, shop, preview):
    shop.change_book(title="Another bench")
    done = run("reprice", "apply", preview.id, "--yes")
    assert (done.exit_code, done.stdout) == (ExitCode.CONFLICT, "")
    assert "version 1 of the price book" in done.stderr
    assert "make a new preview" in done.stderr


@pytest.mark.parametrize(
    ("skus", "said"),
    [
        (["lower"], "1 band has its new price.\n"),
        (["hold"], "No bands have their new prices.\n"),
    ],
)
def test_one_and_none_are_counted_as_people_do(run, shop, skus, said):
    made = shop.repricings.preview(skus=skus)
    assert run("reprice", "apply", made.id, "--yes").stdout.startswith(said)


def test_undo_says_that_all_is_as_before(run, shop, preview):
    before = shop.prices()
    run("reprice", "apply", preview.id, "--yes")
    done = run("reprice", "undo", preview.id)
    assert (done.exit_code, done.stderr) == (0, "")
    assert done.stdout.startswith(f"Repricing {preview.id} is undone")
    assert shop.prices() == before
    entries = shop.entries("repricing")
    assert [entry[0] for entry in entries[-2:]] == [
        "repricing.applied",
        "repricing.undone",
    ]


def test_bands_in_review_are_named(run, shop, preview):
    done = run("reprice", "apply", preview.id, "--include", "wait:5", "--yes", "--json")
    told = json.loads(done.stdout)
    assert told["include"] == [{"sku": "wait", "from": "5"}]
    assert shop.prices()["wait", 5] == shop.asked()
    shown = run("reprice", "show", preview.id).stdout
    assert "included    wait:5\n" in shown


def test_what_is_not_in_review_cannot_be_named(run, shop, preview):
    before = shop.prices()
    done = run("reprice", "apply", preview.id, "--include", "hold:5", "--yes")
    assert done.exit_code == ExitCode.FAILED
    assert "hold from 5 is not in review" in done.stderr
    assert shop.prices() == before


@pytest.mark.parametrize(
    "wrong", ["wait", "wait:", ":5", "wait:five", "a b:5", "w:1e3"]
)
def test_a_band_that_is_not_named_properly_is_a_usage_error(run, preview, wrong):
    done = run("reprice", "apply", preview.id, "--include", wrong, "--yes")
    assert done.exit_code == ExitCode.USAGE
    assert "like R-17:5.5" in done.stderr


@pytest.mark.usefixtures("at_terminal")
def test_at_a_terminal_the_maker_is_asked_first(run, shop, preview):
    before = shop.prices()
    done = run("reprice", "apply", preview.id, input="n\n")
    assert done.exit_code == ExitCode.FAILED
    assert "2 to raise" in done.stderr
    question = "Change the prices of 3 bands; 1 in review stay as they are? [y/N]"
    assert question in done.stderr
    assert "Nothing was changed." in done.stderr
    assert shop.prices() == before
    done = run("reprice", "apply", preview.id, "--include", "wait:5", input="y\n")
    assert done.exit_code == 0
    assert "Change the prices of 4 bands? [y/N]" in done.stderr
    assert shop.prices() != before


def test_where_nobody_can_be_asked_nothing_is_done(run, shop, preview):
    done = run("reprice", "apply", preview.id)
    assert done.exit_code == ExitCode.USAGE
    assert "give --yes" in done.stderr
    assert shop.repricings.get(preview.id) == preview


@pytest.mark.parametrize("what", ["apply", "undo"])
def test_a_listing_that_changed_since_is_named(run, shop, preview, what):
    if what == "undo":
        shop.applied(preview)
    shop.reprice_by_hand("raise", "141.00")
    before = shop.prices()
    yes = ["--yes"] if what == "apply" else []
    done = run("reprice", what, preview.id, *yes)
    assert done.exit_code == ExitCode.CONFLICT
    assert "Changed were: raise" in done.stderr
    assert shop.prices() == before


def test_what_is_done_is_not_done_again_and_nobody_is_asked(run, shop, preview):
    shop.applied(preview)
    done = run("reprice", "apply", preview.id)
    assert done.exit_code == ExitCode.CONFLICT
    assert "it can only be undone" in done.stderr
    run("reprice", "undo", preview.id)
    done = run("reprice", "undo", preview.id)
    assert done.exit_code == ExitCode.CONFLICT


@pytest.fixture
def in_parts(monkeypatch):
    """Even the few bands of a test are made ready before the prices switch."""
    monkeypatch.setattr("api.app.composition.ONE_WRITER", Pace(at_once=0))


@pytest.fixture
def cut_short(in_parts, shop, preview):
    """The preview, being applied by a process that ended before the switch."""
    switch = "api.db.repositories.RepricingRepository.switch"
    with patch(switch, side_effect=Killed), pytest.raises(Killed):
        shop.applied(preview)
    return preview


def test_one_that_was_cut_short_goes_on(cut_short, run, shop, preview):
    told = run("reprice", "show", preview.id).stdout
    assert "status      applying\n" in told
    assert run("reprice", "apply", preview.id, "--yes").exit_code == 0
    assert shop.prices()["lower", 5] == shop.asked() != Decimal(170)


def test_the_server_turns_back_what_was_cut_short_as_it_starts(
    cut_short, shop, preview, clock, capsys
):
    _recover(shop.services)
    assert capsys.readouterr().err == ""
    clock.advance(minutes=6)
    _recover(shop.services)
    assert f"The repricing {preview.id} was cut short" in capsys.readouterr().err
    assert shop.repricings.get(preview.id).status == "preview"
