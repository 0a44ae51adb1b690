"""A repricing in a browser: with hands, with keys alone, with and without scripts."""

from __future__ import annotations

import re

import pytest

from tests.browser.bench_site import (
    MOST_BYTES,
    PHONE,
    VIEWS,
    many_listings,
    no_violations,
)
from tests.browser.press import before_the_script, press

pytestmark = pytest.mark.slow

RUNS, NEW = "/bench/repricings", "/bench/repricings/new"
HIGH = "34"  # at which one band is in review and others are raised


def price(site, sku):
    """The price in force of the first band of a listing."""
    return site.services.listings.get(sku).bands[0].price


def tab_to(page, name, *, most=60):
    """Go to a link, button or field by the key Tab alone, and see that one sees it."""
    for _ in range(most):
        page.keyboard.press("Tab")
        at = page.evaluate(
            """() => {
              const one = document.activeElement, box = one.getBoundingClientRect();
              const label = one.labels && one.labels[0];
              return {
                name: (label ? label.innerText : one.innerText).trim(),
                seen: getComputedStyle(one).outlineStyle !== 'none',
                inside: box.bottom > 0 && box.top < innerHeight,
              };
            }"""
        )
        if at["name"].startswith(name):
            assert at["seen"]
            assert at["inside"]
            return
    raise AssertionError(f"no {name!r} within {most} tabs")


@pytest.mark.parametrize("scripts", [True, False])
def test_preview_apply_and_undo_by_keys_alone(fresh_site, page_of, scripts):
    before = {sku: price(fresh_site, sku) for sku in ("ring-50s", "ring-2-5g")}
    page = page_of(fresh_site, "/bench/listings", scripts=scripts)
    tab_to(page, "Reprice")
    page.keyboard.press("Enter")
    page.wait_for_url(re.compile("/new"))
    tab_to(page, "At another spot")
    page.keyboard.type(HIGH)
    tab_to(page, "Make a preview")
    page.keyboard.press("Enter")
    page.wait_for_url(re.compile("[0-9a-f]{32}"))
    tab_to(page, "Apply")
    page.keyboard.press("Enter")
    page.wait_for_url(re.compile("/apply"))
    tab_to(page, "Change ring-2-5g")
    page.keyboard.press("Space")
    if scripts:
        page.locator("#sum").get_by_text("4 prices will change").wait_for()
    tab_to(page, "Put the prices in force")
    page.keyboard.press("Enter")
    page.wait_for_url(re.compile("done=applied"))
    assert all(price(fresh_site, sku) > old for sku, old in before.items())
    tab_to(page, "Undo")
    page.keyboard.press("Enter")
    page.wait_for_url(re.compile("/undo"))
    tab_to(page, "Put them back")
    page.keyboard.press("Enter")
    page.wait_for_url(re.compile("done=undone"))
    assert before == {sku: price(fresh_site, sku) for sku in before}
    assert "in force again" in page.get_by_role("status").inner_text()


@pytest.mark.parametrize(("width", "scheme"), VIEWS)
def test_everybody_can_use_these_pages(bench_site, page_of, width, scheme):
    page = page_of(bench_site, NEW, width=width, scheme=scheme)
    page.locator("#f-spot-price").fill(HIGH)
    press(page.get_by_role("button", name="Make a preview"))
    page.wait_for_url(re.compile("[0-9a-f]{32}"))
    no_violations(page)
    press(page.get_by_role("link", name="Apply"))
    page.wait_for_url(re.compile("/apply"))
    no_violations(page)


def test_what_if_follows_the_slide_and_the_field(bench_site, page_of):
    page = page_of(bench_site, NEW)
    slide = page.get_by_role("slider")
    slide.focus()
    for _ in range(3):
        slide.press("ArrowRight")
    assert page.locator("#f-change_percent").input_value() == "8"
    page.locator("#effect").get_by_text("29.70").wait_for()
    assert "would change" in page.get_by_role("status").inner_text()
    page.locator("#f-change_percent").fill("-12")
    assert slide.input_value() == "-12"
    page.locator("#effect").get_by_text("24.20").wait_for()


def test_the_slide_stands_where_the_field_was_set_before_the_script_was_there(
    bench_site, page_of
):
    page = page_of(bench_site)
    before_the_script(page, lambda: page.locator("#f-change_percent").fill("-12"))
    page.goto(NEW)
    assert page.get_by_role("slider").input_value() == "-12"
    page.locator("#effect").get_by_text("24.20").wait_for()


def test_what_if_is_a_plain_field_without_scripts(bench_site, page_of):
    page = page_of(bench_site, NEW, scripts=False, width=PHONE)
    assert page.get_by_role("slider").count() == 0
    page.locator("#f-change_percent").fill("150")
    press(page.get_by_role("button", name="Look", exact=True))
    page.locator("#effect").get_by_text("68.75").wait_for()


def test_a_preview_that_was_overtaken_says_so_in_plain_words(fresh_site, page_of):
    page = page_of(fresh_site, NEW, width=PHONE, scheme="dark")
    page.locator("#f-spot-price").fill(HIGH)
    press(page.get_by_role("button", name="Make a preview"))
    press(page.get_by_role("link", name="Apply"))
    edit = b"sku,from,to,price\nring-50s,10,12,170"
    fresh_site.services.listings.import_csv(edit)
    press(page.get_by_role("button", name="Put the prices in force"))
    page.get_by_text("This preview no longer holds").wait_for()
    page.get_by_text("Which ones").click()
    assert page.get_by_role("link", name="ring-50s").first.is_visible()
    no_violations(page)
    press(page.get_by_role("link", name="Make a new preview"))
    page.wait_for_url(re.compile("/new"))


def test_at_a_thousand_listings_pages_are_light_and_quick(fresh_site):
    many_listings(fresh_site.services)
    run = fresh_site.services.repricings.preview()
    home = f"{RUNS}/{run.id}"
    for path in (home, f"{home}?decision=all", f"{home}/apply", RUNS, NEW):
        assert fresh_site.weight(path) < MOST_BYTES
    for path in (f"{home}?decision=all", f"{home}/apply", NEW):
        assert fresh_site.ratio(path, times=7) < 40
