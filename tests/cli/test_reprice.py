"""`fineweight reprice`: previewed for people and timers, shown and listed."""

from __future__ import annotations

import json
from datetime import timedelta
from decimal import Decimal

import pytest

from api.app import compose
from api.cli.exit_codes import ExitCode
from api.cli.reprice_words import signed_percent
from api.schemas.repricing_documents import PreviewDocument
from api.settings import Settings
from tests.cli.repricing import StockedShop, stocked
from tests.services.repricing import POLICIES, SHOP_BOOK


@pytest.fixture
def shop(tmp_path, clock):
    with stocked(tmp_path / "shop.sqlite3", clock) as made:
        yield made


@pytest.fixture
def services(shop):
    return shop.services


def newest(shop):
    return shop.repricings.page(limit=1).runs[0]


def settle(shop):
    """Apply everything, so that nothing is left to be decided."""
    for sku in ("wait", "block"):
        shop.remove(sku)
    return shop.applied(shop.repricings.preview())


def test_a_preview_prints_totals_and_every_band_that_would_change(run, shop):
    before = shop.prices()
    done = run("reprice", "preview")
    assert (done.exit_code, done.stderr) == (ExitCode.FOUND, "")
    told, made = done.stdout, newest(shop)
    assert f"repricing   {made.id}\n" in told
    assert "silver      27.50 EUR a troy ounce (manual, 2026-12-01 12:00 UTC)" in told
    assert "2 to raise" in told
    assert "1 in review" in told
    assert "1 blocked" in told
    assert f"change      {made.value_change:+f} EUR" in told
    rows = {line.split()[0]: line for line in told.splitlines() if line.strip()}
    assert "5-5.5" in rows["lower"]
    assert "170.00  154.95   -8.9 %  42.2 %  36.8 %  lower" in rows["lower"]
    assert "no coin 'gone'" in rows["block"]
    assert "+55" in rows["wait"]
    assert "hold" not in rows
    assert "lock" not in rows
    assert f"Apply it: fineweight reprice apply {made.id}" in told
    assert "unless each is named: --include wait:5\n" in told
    assert shop.prices() == before


def test_where_all_waits_for_a_word_the_way_to_say_it_is_shown(run, shop):
    for sku in ("raise", "lower"):
        shop.remove(sku)
    told = run("reprice", "preview").stdout
    how = f"fineweight reprice apply {newest(shop).id} --include"
    assert f"\nNothing changes but what is named: {how} wait:5\n" in told
    assert "Apply it" not in told
    told = run("reprice", "show", newest(shop).id, "--limit", 0).stdout
    assert f"{how} SKU:FROM\n" in told


@pytest.mark.parametrize(("columns", "beside"), [("40", False), ("300", True)])
def test_reasons_stand_below_where_the_terminal_is_narrow(
    run, shop, monkeypatch, columns, beside
):
    del shop
    monkeypatch.setenv("COLUMNS", columns)
    told = run("reprice", "preview").stdout
    head, *_ = (line for line in told.splitlines() if line.startswith("sku"))
    assert head.endswith("why") == beside
    _, _, after = told.partition("\nwait ")
    row, *reason = after.splitlines()[:2]
    assert ("over the largest step" in row) == beside
    if not beside:
        assert row.endswith("review")
        assert reason[0].startswith("  the margin at 100.00 would be")
        assert len(reason[0]) <= 40
    assert "\x1b" not in told


def test_at_another_spot_for_some_listings(run, shop):
    skus = ("--sku", "lower", "--sku", "hold")
    done = run("reprice", "preview", "--spot", "20", *skus)
    assert done.exit_code == ExitCode.FOUND
    made = newest(shop)
    assert (made.spot_price, made.skus) == (20, ("lower", "hold"))
    assert "listings    lower, hold\n" in done.stdout
    assert "(given, 2026-12-01 12:00 UTC)" in done.stdout


def test_what_is_left_out_is_counted(run, shop):
    shop.list(*(shop.listing(f"n{n}", ("5", "5.5", "140.00")) for n in range(4)))
    done = run("reprice", "preview", "--limit", 1)
    assert "and 5 more to raise\n" in done.stdout
    assert "more in review" not in done.stdout
    assert "sku" not in run("reprice", "preview", "--limit", 0).stdout


def test_programs_get_the_document_of_the_api(run, shop):
    done = run("reprice", "preview", "--json")
    assert done.exit_code == ExitCode.FOUND
    told = json.loads(done.stdout)
    assert {*told} == {*PreviewDocument().dump_fields}
    assert told["moved"] is None
    assert told["repricing"]["id"] == newest(shop).id
    decisions = [each["decision"] for each in told["changes"]]
    assert decisions == ["raise", "raise", "lower", "review", "blocked"]


def test_nothing_to_change_ends_with_nothing(run, shop):
    settle(shop)
    done = run("reprice", "preview")
    assert done.exit_code == ExitCode.OK
    assert "reprice apply" not in done.stdout


def test_blocked_bands_alone_are_no_decision(run, shop):
    for sku in ("raise", "lower", "wait"):
        shop.remove(sku)
    done = run("reprice", "preview")
    assert done.exit_code == ExitCode.OK
    assert "no coin 'gone'" in done.stdout


@pytest.mark.parametrize("percent", ["2%", "2", "2 %", "2.0"])
def test_a_timer_is_told_that_silver_has_hardly_moved(run, shop, percent):
    settle(shop)
    shop.silver("28.00")
    done = run("reprice", "preview", "--if-moved", percent)
    assert (done.exit_code, done.stderr) == (ExitCode.OK, "")
    assert done.stdout == (
        "Silver has moved +1.8 % since the repricing applied last, less than 2 %: "
        "nothing to do.\n"
    )
    told = json.loads(run("reprice", "preview", "--if-moved", "2%", "--json").stdout)
    assert told == {"moved": "0.0182", "repricing": None, "changes": []}
    assert len(shop.repricings.page(limit=9).runs) == 1


@pytest.mark.parametrize("spot", ["28.05", "40", "20"])
def test_a_timer_makes_a_preview_once_it_has(run, shop, spot):
    settle(shop)
    shop.silver(spot)
    done = run("reprice", "preview", "--if-moved", "2%", "--json")
    told = json.loads(done.stdout)
    assert told["repricing"]["spot"]["price"] == f"{Decimal(spot):.2f}"
    assert Decimal(told["moved"]) == round(Decimal(spot) / Decimal("27.5") - 1, 4)
    waits = [told["repricing"]["counts"][name] for name in ("raise", "lower", "review")]
    assert done.exit_code == (ExitCode.FOUND if any(waits) else ExitCode.OK)


def test_a_timer_makes_a_preview_where_none_was_applied_yet(run, shop):
    assert run("reprice", "preview", "--if-moved", "99%").exit_code == ExitCode.FOUND
    assert newest(shop).status == "preview"


def test_a_timer_tells_the_same_preview_until_something_has_changed(run, shop, clock):
    settle(shop)
    shop.list(shop.listing("new", ("5", "5.5", "140.00")))
    shop.silver("28.10")
    first = run("reprice", "preview", "--if-moved", "2%")
    assert first.exit_code == ExitCode.FOUND
    clock.advance(hours=1)
    again = run("reprice", "preview", "--if-moved", "2%")
    assert (again.exit_code, again.stdout) == (ExitCode.FOUND, first.stdout)
    assert len(shop.repricings.page(limit=9).runs) == 2
    told = json.loads(run("reprice", "preview", "--if-moved", "2%", "--json").stdout)
    assert told["repricing"]["id"] == newest(shop).id
    shop.edit("new", title="Another title")
    run("reprice", "preview", "--if-moved", "2%")
    assert len(shop.repricings.page(limit=9).runs) == 3
    run("reprice", "preview")
    assert len(shop.repricings.page(limit=9).runs) == 4


def test_a_given_spot_may_be_asked_about_too(run, shop):
    settle(shop)
    done = run("reprice", "preview", "--if-moved", "50%", "--spot", "30")
    assert "moved +9.1 %" in done.stdout


@pytest.mark.parametrize("options", [[], ["--if-moved", "2%"]])
def test_a_stale_price_is_no_price(run, shop, clock, options):
    settle(shop)
    shop.silver("27.50")
    clock.advance(days=20)
    done = run("reprice", "preview", *options)
    assert done.exit_code == ExitCode.SPOT_STALE
    assert "hours of open market old" in done.stderr
    assert run("reprice", "preview", "--spot", "27.50", *options).exit_code == 0


@pytest.fixture
def without_spot(tmp_path, clock):
    """A shop whose only price of silver has expired."""
    composed = compose(Settings(database=str(tmp_path / "none.db")), clock=clock)
    composed.price_books.replace(SHOP_BOOK, expected=None)
    soon = clock.now() + timedelta(hours=1)
    composed.spot_prices.enter("XAG", Decimal(27), "EUR", expires_at=soon)
    clock.advance(hours=2)
    yield StockedShop(composed).stock()
    composed.close()


def test_without_a_price_what_needs_one_is_blocked_and_the_code_says_so(
    run, without_spot
):
    given = without_spot.services
    done = run("reprice", "preview", given=given)
    assert done.exit_code == ExitCode.SPOT_STALE
    assert "no price in force" in done.stdout
    assert "fineweight spot set" in done.stderr
    done = run("reprice", "preview", "--if-moved", "2%", given=given)
    assert done.exit_code == ExitCode.SPOT_STALE
    assert len(without_spot.repricings.page(limit=9).runs) == 1
    assert "preview" in run("reprice", "list", given=given).stdout


@pytest.mark.parametrize("wrong", ["0%", "-2%", "two", "2%%", ""])
def test_a_share_that_cannot_be_is_a_usage_error(run, shop, wrong):
    del shop
    done = run("reprice", "preview", f"--if-moved={wrong}")
    assert done.exit_code == ExitCode.USAGE
    assert "write it like 2%" in done.stderr


def test_a_sku_that_names_nothing_is_told(run, shop):
    done = run("reprice", "preview", "--sku", "nothing")
    assert done.exit_code == ExitCode.FAILED
    assert "no listing 'nothing'" in done.stderr
    assert shop.repricings.page(limit=1).runs == ()


def test_a_repricing_is_shown_with_what_became_of_it(run, shop, clock):
    made = shop.repricings.preview()
    clock.advance(hours=1)
    done = shop.applied(made)
    told = run("reprice", "show", made.id).stdout
    assert "status      applied\n" in told
    assert "applied     2026-12-01 13:00 UTC\n" in told
    assert f"fineweight reprice undo {made.id}" in told
    shop.repricings.undo(made.id, expected=done.version)
    told = run("reprice", "show", made.id).stdout
    assert "undone      2026-12-01 13:00 UTC\n" in told
    assert "fineweight reprice" not in told
    document = json.loads(run("reprice", "show", made.id, "--json").stdout)
    assert (document["status"], document["version"]) == ("undone", 4)


def test_an_unknown_one_is_told(run, shop):
    del shop
    done = run("reprice", "show", "nothing")
    assert done.exit_code == ExitCode.FAILED
    assert "no repricing 'nothing'" in done.stderr


def test_repricings_are_listed_newest_first(run, shop):
    first = shop.applied(shop.repricings.preview())
    second = shop.repricings.preview(Decimal(30))
    done = run("reprice", "list")
    ids = [line.split()[0] for line in done.stdout.splitlines()]
    assert ids == ["repricing", second.id, first.id]
    assert done.stderr == ""
    done = run("reprice", "list", "--limit", 1)
    assert first.id not in done.stdout
    assert "There are older ones" in done.stderr
    done = run("reprice", "list", "--status", "applied", "--json")
    assert [each["id"] for each in json.loads(done.stdout)["repricings"]] == [first.id]
    done = run("reprice", "list", "--status", "undone")
    assert "make one: fineweight reprice preview" in done.stderr


@pytest.mark.parametrize(
    ("share", "said"),
    [("0.0004", "+0 %"), ("-0.0004", "+0 %"), ("0.5", "+50 %"), ("-0.123", "-12.3 %")],
)
def test_a_change_has_its_sign(share, said):
    assert signed_percent(Decimal(share)) == said


def test_the_policies_of_this_shop_are_those_the_figures_are_about():
    assert POLICIES[0]["rounding"] == {"step": "5.00", "offset": "-0.05"}
