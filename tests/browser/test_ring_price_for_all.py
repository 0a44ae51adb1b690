"""The element for everybody: by keyboard, by ear, large, dark, in other words."""

from __future__ import annotations

import pytest
from axe_playwright_python.sync_playwright import Axe

from tests.browser.test_sheet import DESK, PHONE, SPACED, VIEWS, ZOOM, faults, view
from tests.browser.window_pages import alert, hold, priced

pytestmark = pytest.mark.slow


def test_it_is_worked_by_keyboard_alone_in_the_order_it_is_read(shop):
    page = shop().page
    page.keyboard.press("Tab")
    page.keyboard.press("ArrowDown")  # UK, which follows US
    page.keyboard.press("Tab")
    page.keyboard.type("T")
    page.keyboard.press("Tab")
    page.keyboard.press("ArrowUp")
    page.get_by_text("EUR\xa0209.90").wait_for()
    page.keyboard.press("Tab")
    outline = """() => getComputedStyle(document.querySelector('ring-price')
        .shadowRoot.activeElement).outline"""
    assert "3px" in page.evaluate(outline)
    page.keyboard.press("Enter")
    page.locator(".held:not(:empty)").wait_for()
    focused = "document.querySelector('ring-price').shadowRoot.activeElement.className"
    assert page.evaluate(focused) == "hold"
    page.keyboard.press("Tab")
    page.keyboard.press("Enter")
    page.wait_for_url("**/order")


KEPT = "[document.cookie, localStorage.length, sessionStorage.length]"
STATES = ("range", "held", "wrong")


@pytest.mark.parametrize("state", STATES)
def test_it_has_no_fault_that_axe_knows_and_breaks_no_policy(shop, workshop, state):
    window = shop(**({} if state == "range" else {"size": "10"}))
    page = window.page
    if state != "range":
        priced(page)
    if state == "held":
        hold(page)
    if state == "wrong":
        workshop.refusals.append((429, {}, {}))
        page.get_by_label("Ring size").select_option("9")
        alert(page)
    console = [text for text in window.console if "429" not in text]
    assert console == []
    assert (
        page.evaluate("document.cookie + localStorage.length + sessionStorage.length")
        == "00"
    )
    page.evaluate(Axe().axe_script)
    found = {}
    for width, scheme in VIEWS:
        view(window, width, scheme)
        found[width, scheme] = faults(window)
    assert found == {each: {} for each in VIEWS}


SIZES = """() => [...document.querySelector('ring-price').shadowRoot
    .querySelectorAll('select, input, button')].map(one => {
        const { width, height } = one.getBoundingClientRect()
        return Math.min(width, height)
    })"""


def test_its_targets_are_large_and_nothing_hangs_over_the_side(shop):
    window = shop(size="10")
    page = window.page
    priced(page)
    for harder in ("", SPACED, ZOOM):
        page.evaluate(harder)
        for width in (PHONE, DESK):
            view(window, width)
            assert page.evaluate("document.documentElement.scrollWidth") == width
            assert min(page.evaluate(SIZES)) >= 24


def test_with_forced_colours_it_can_still_be_seen(shop):
    page = shop(size="10").page
    page.emulate_media(forced_colors="active", reduced_motion="reduce")
    button = page.get_by_role("button", name="Hold this price")
    assert "2px" in button.evaluate("one => getComputedStyle(one).border")
    moving = """() => document.querySelector('ring-price').shadowRoot
        .getAnimations().length"""
    assert page.evaluate(moving) == 0


def test_every_label_can_be_given_in_another_language(shop):
    texts = {
        "text-system": "System",
        "text-size": "Ringgröße",
        "text-quantity": "Stück",
        "text-hold": "Preis halten",
        "text-held": "Bis {time} gehalten: {number}, {total}",
    }
    page = shop(wait=False, size="10", lang="de", **texts).page
    page.get_by_label("Ringgröße").wait_for()
    assert page.get_by_label("System").count() == 1
    assert page.get_by_label("Stück").count() == 1
    page.get_by_text("104,95\xa0EUR").wait_for()
    page.get_by_role("button", name="Preis halten").click()
    page.get_by_text("gehalten: 2026-0001, 104,95\xa0EUR").wait_for()


def test_its_look_can_be_changed_from_outside(shop):
    page = shop().page
    page.evaluate("""() => {
        const sheet = new CSSStyleSheet()
        sheet.replaceSync(`ring-price { --ring-price-accent: rgb(1, 2, 3) }
            ring-price::part(total) { color: rgb(4, 5, 6) }`)
        document.adoptedStyleSheets = [sheet]
    }""")
    colour = "one => getComputedStyle(one)"
    button = page.locator(".hold").evaluate(f"{colour}.backgroundColor")
    total = page.locator(".total").evaluate(f"{colour}.color")
    assert (button, total) == ("rgb(1, 2, 3)", "rgb(4, 5, 6)")
