"""The price book and coins, looked at and used in every view."""

from __future__ import annotations

import pytest

from tests.browser.bench_site import (
    DESK,
    MOST_BYTES,
    PHONE,
    VIEWS,
    many_listings,
    no_violations,
)
from tests.browser.press import press
from tests.thoroughness import thorough

pytestmark = pytest.mark.slow

BOOK = "/bench/book"
LABOUR, FOLD = f"{BOOK}/labour", f"{BOOK}/stages/fold"
COIN = "/bench/coins/at_50s_1959_1973"
PAGES = (
    BOOK,
    LABOUR,
    f"{BOOK}/stages",
    FOLD,
    f"{BOOK}/forming",
    f"{BOOK}/channels/own_shop",
    f"{BOOK}/policies/retail",
    f"{BOOK}/versions",
    f"{BOOK}/import",
    "/bench/coins",
    COIN,
    f"{COIN}/change",
    "/bench/begin",
)
QUICK = (LABOUR, FOLD, f"{BOOK}/stages", COIN)
MOST_RATIO = 100
"""Server time of a page in times an empty one, at 1,000 listings: about 12 on a quiet
machine, where an empty page takes about 1 ms."""


@pytest.mark.parametrize(("width", "scheme"), VIEWS)
def test_every_page_can_be_used_by_everybody(bench_site, page_of, width, scheme):
    page = page_of(bench_site, BOOK, width=width, scheme=scheme)
    for path in thorough(quick=(BOOK, *QUICK), full=PAGES):
        page.goto(path)
        no_violations(page)


@pytest.mark.parametrize(("width", "scheme"), VIEWS)
def test_the_beginning_and_what_is_refused_can_be_used_by_everybody(
    empty_site, bench_site, page_of, width, scheme
):
    no_violations(page_of(empty_site, "/bench/begin", width=width, scheme=scheme))
    page = page_of(bench_site, FOLD, width=width, scheme=scheme)
    page.get_by_label("Attended, each visit").fill("-4")
    press(page.get_by_role("button", name="Save as version"))
    page.get_by_role("alert").wait_for()
    no_violations(page)


@pytest.mark.parametrize(("width", "scripts"), [(PHONE, False), (DESK, True)])
def test_a_change_is_seen_in_three_prices_before_it_is_saved_and_taken_back(
    fresh_site, page_of, width, scripts
):
    page = page_of(fresh_site, LABOUR, width=width, scripts=scripts)
    page.get_by_label("Bench wage").fill("64")
    if not scripts:
        press(page.get_by_role("button", name="Try it"))
    page.locator("#effect .tag").first.wait_for()
    assert page.locator("#effect .tag").all_inner_texts()[0].startswith("dearer by")
    assert page.locator("#effect li").count() == 3
    assert fresh_site.services.price_books.current().version == 1
    page.get_by_label("Why").fill("A good year")
    press(page.get_by_role("button", name="Save as version 2"))
    page.get_by_text("The price book has a new version").wait_for()
    page.goto(f"{BOOK}/versions")
    press(page.get_by_role("link", name="Go back to it"))
    press(page.get_by_role("button", name="Save as version 3"))
    page.get_by_role("cell", name="Back to version 1").wait_for()
    book = fresh_site.services.price_books.current()
    assert (book.version, str(book.labour.rate_per_hour)) == (3, "32.00")


def test_a_stage_gets_a_consumable_by_keyboard_alone(fresh_site, page_of):
    page = page_of(fresh_site, f"{BOOK}/stages/deburr")
    add = page.get_by_role("button", name="Add a consumable")
    add.focus()
    page.keyboard.press("Enter")
    chosen = page.locator("#f-consumables-1-key")
    chosen.focus()
    page.keyboard.type("Pickle")
    page.locator("#f-consumables-1-quantity").focus()
    page.keyboard.type("0.5")
    page.locator("#effect").get_by_text("Consumable Pickle").wait_for()
    page.get_by_role("button", name="Save as version 2").focus()
    page.keyboard.press("Enter")
    page.get_by_text("has a new version").wait_for()
    stage = fresh_site.services.price_books.current().stages[2]
    assert [one.key for one in stage.consumables] == ["abrasive_paper", "pickle"]


def test_pages_are_light_and_quick_at_a_thousand_listings(fresh_site):
    many_listings(fresh_site.services)
    for path in PAGES:
        assert fresh_site.weight(path) < MOST_BYTES, path
    slowest = {path: fresh_site.ratio(path, times=5) for path in (LABOUR, FOLD)}
    assert max(slowest.values()) < MOST_RATIO, slowest


@pytest.mark.parametrize("scripts", [True, False])
def test_a_coin_of_ones_own_is_kept_and_leads_to_a_price(fresh_site, page_of, scripts):
    page = page_of(fresh_site, "/bench/coins", width=PHONE, scripts=scripts)
    press(page.get_by_role("link", name="Add a coin of your own"))
    page.get_by_label("Key").fill("my_medal")
    figures = {"Gross mass": "24.5", "Fineness": "925", "Diameter": "38"}
    for name, typed in figures.items():
        page.get_by_role("textbox", name=name).fill(typed)
    if scripts:
        page.locator("#worth").get_by_text("0.7213 ozt").first.wait_for()
    press(page.get_by_role("button", name="Keep the coin"))
    page.get_by_text("The coin is kept").wait_for()
    press(page.get_by_role("link", name="Price a ring of it"))
    assert page.url.endswith("/bench/quotes/new?coin=my_medal")
    assert fresh_site.services.coins.get("my_medal").origin == "workshop"
