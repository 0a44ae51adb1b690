"""Quoting in a real browser: by keyboard alone, without scripts, by anybody."""

from __future__ import annotations

import pytest

from tests.browser.bench_site import (
    COIN,
    DESK,
    MOST_BYTES,
    PHONE,
    VIEWS,
    no_violations,
)
from tests.browser.press import press

pytestmark = pytest.mark.slow

NEW, ALL = "/bench/quotes/new", "/bench/quotes"
FULL = f"{NEW}?coin={COIN}&system=us&size=10"
MOST_TABS = 60
SLOWEST = 60
"""How long the server may work on a page, in times an empty page."""
_ACTIVE = """() => {
    const one = document.activeElement, box = one.getBoundingClientRect();
    return {id: one.id, seen: box.bottom > 0 && box.top < innerHeight};
}"""


def tab_to(page, name):
    """Press Tab until an element has the focus, which is always in sight."""
    for _ in range(MOST_TABS):
        page.keyboard.press("Tab")
        active = page.evaluate(_ACTIVE)
        assert active["seen"], active
        if active["id"] == name:
            return
    raise AssertionError(f"no way to {name} by Tab")


@pytest.mark.parametrize("scripts", [True, False])
def test_a_quote_is_made_by_keyboard_alone(bench_site, page_of, scripts):
    page = page_of(bench_site, NEW, scripts=scripts)
    tab_to(page, "f-_coin-0")
    page.keyboard.type("Austria 50 schilling, .900")
    tab_to(page, "f-lines-0-size-size")
    page.keyboard.type("10")
    tab_to(page, "f-lines-0-size-system")
    page.keyboard.type("US")
    if not scripts:
        tab_to(page, "f-lines-0-quantity")
        page.keyboard.press("Enter")  # the first button works it out, and no more
        page.wait_for_url("**#figures")
    page.locator("#figures").get_by_text("€164.95").first.wait_for()
    tab_to(page, "promise")
    page.keyboard.press("Enter")
    page.wait_for_url("**?done=promised")
    assert "It is promised." in page.get_by_role("status").inner_text()
    tab_to(page, "address")
    assert "/quotes/" in page.locator("#address").input_value()


@pytest.mark.parametrize(("width", "scheme"), VIEWS)
def test_the_desk_can_be_used_by_everybody(bench_site, page_of, width, scheme):
    page = page_of(bench_site, NEW, width=width, scheme=scheme)
    no_violations(page)
    page.goto(FULL)
    page.locator("summary").evaluate_all("all => all.forEach(x => x.click())")
    no_violations(page)
    page.goto(f"{NEW}?coin=us_dime_1892_1964&system=us&size=14")
    page.get_by_role("button", name="Take size US 5").wait_for()
    no_violations(page)
    page.get_by_label("Finger size").fill("?")
    press(page.get_by_role("button", name="Work it out"))
    page.get_by_role("alert").wait_for()
    no_violations(page)


@pytest.mark.parametrize(("width", "scheme"), VIEWS)
def test_quotes_can_be_read_by_everybody(bench_site, page_of, width, scheme):
    quote = f"{ALL}/{bench_site.made['open']}"
    page = page_of(bench_site, ALL, width=width, scheme=scheme)
    for path in (ALL, quote, f"{quote}/renew", f"{quote}/accept", f"{quote}/decline"):
        page.goto(path)
        no_violations(page)
    page.goto(f"{ALL}?text=nothing+like+that")
    no_violations(page)


def test_figures_follow_what_is_typed(bench_site, page_of):
    page = page_of(bench_site, NEW)
    figures = page.locator("#figures")
    page.get_by_label("Coin", exact=True).select_option(COIN)
    page.get_by_label("System").select_option("us")
    page.get_by_label("Finger size").fill("10")
    figures.get_by_text("€164.95").first.wait_for()
    assert "€164.95, margin" in page.get_by_role("status").inner_text()
    page.get_by_label("Ring box").check()
    figures.get_by_text("€169.95").first.wait_for()
    figures.locator("#cost-labour summary").click()
    page.get_by_label("How many").fill("3")
    figures.get_by_text("Price of the rings").first.wait_for()
    assert figures.locator("#cost-labour").get_attribute("open") is not None
    page.get_by_label("Finger size").fill("many")
    figures.get_by_role("link", name="many").wait_for()
    page.get_by_label("Finger size").fill("6")
    figures.get_by_text("Price of the rings").first.wait_for()


@pytest.mark.parametrize(("width", "scripts"), [(PHONE, False), (DESK, True)])
def test_a_pair_is_quoted_accepted_and_put_on_the_bench(
    fresh_site, page_of, width, scripts
):
    page = page_of(fresh_site, FULL, width=width, scripts=scripts)
    press(page.get_by_role("button", name="Add another ring"))
    page.get_by_role("heading", name="Ring 2 of 2").wait_for()
    page.get_by_label("Finger size").fill("6.5")
    press(page.get_by_role("button", name="Work it out"))
    price = page.get_by_text("Price of the rings", exact=True)
    assert price.bounding_box()["y"] < page.viewport_size["height"]
    rings = page.get_by_role("region", name="The rings of this order")
    rings.get_by_text("US 6.5").wait_for()
    press(page.get_by_role("button", name="Promise"))
    page.wait_for_url("**?done=promised")
    sheet = page.get_by_role("link", name="Open it, to print").get_attribute("href")
    press(page.get_by_role("link", name="Accept it"))
    press(page.get_by_role("button", name="Accept"))
    page.get_by_role("button", name="Open a job for it").wait_for()
    page.goto(sheet)
    assert "US 6.5" in page.get_by_role("main").inner_text()


def test_on_a_phone_the_price_goes_along_with_the_form(bench_site, page_of):
    page = page_of(bench_site, FULL, width=PHONE)
    page.get_by_label("How many").fill("2")
    said = page.get_by_role("status")
    said.get_by_text("margin").wait_for()
    page.get_by_label("Sold through").scroll_into_view_if_needed()
    assert said.bounding_box()["y"] >= 0
    tab_to(page, "promise")


def test_pages_are_light_and_quick(bench_site):
    quote = f"{ALL}/{bench_site.made['open']}"
    for path in (NEW, FULL, ALL, quote, f"{quote}/renew"):
        assert bench_site.weight(path) < MOST_BYTES, path
        assert bench_site.ratio(path, times=5) < SLOWEST, path
