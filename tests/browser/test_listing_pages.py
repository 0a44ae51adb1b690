"""Listings in a browser: in every view, with and without scripts, by files, weighed."""

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
from tests.browser.press import press

pytestmark = pytest.mark.slow

LIST = "/bench/listings"
ONE = f"{LIST}/ring-50s"
FILE = (
    "Artikel;Name;kind;coin;channel;policy;from;to;Preis\r\n"
    "ring-file;Ring;made_to_order;at_50s_1959_1973;own_shop;retail;5;{to};99,90\r\n"
)


def csv(text):
    """A file as a browser sends it."""
    return {"name": "shop.csv", "mimeType": "text/csv", "buffer": text.encode()}


@pytest.mark.parametrize(("width", "scheme"), VIEWS)
def test_everybody_can_use_what_a_file_leads_to(bench_site, page_of, width, scheme):
    page = page_of(bench_site, f"{LIST}/import", width=width, scheme=scheme)
    page.get_by_label("Between cells").first.select_option("semicolon")
    page.get_by_label("The file").set_input_files(csv(FILE.format(to="x")))
    press(page.get_by_role("button", name="Look at it"))
    page.get_by_role("alert").wait_for()
    no_violations(page)


@pytest.mark.parametrize(("scripts", "width"), [(True, 1280), (False, PHONE)])
def test_a_listing_is_added_changed_and_taken_out(fresh_site, page_of, scripts, width):
    page = page_of(fresh_site, LIST, scripts=scripts, width=width)
    press(page.get_by_role("link", name="Add a listing"))
    page.get_by_label("SKU").fill("ring-oak")
    page.get_by_label("Title").fill("Oak ring")
    page.get_by_label("Coin").select_option("at_50s_1959_1973")
    press(page.get_by_role("button", name="Add a band"))
    page.locator("#f-bands-0-from").fill("5")
    page.locator("#f-bands-0-to").fill("9.5")
    page.locator("#f-bands-1-from").fill("10")
    page.locator("#f-bands-1-to").fill("twelve")
    if scripts:
        page.locator("#tried").get_by_text("is not a number").wait_for()
    press(page.get_by_role("button", name="Put it into the shop"))
    fault = page.get_by_role("alert").get_by_role("link")
    assert page.get_by_label("Title").input_value() == "Oak ring"
    fault.click()
    assert page.evaluate("location.hash") == "#f-bands-1-to"
    page.locator("#f-bands-1-to").fill("12")
    if scripts:
        page.locator("#tried").get_by_text("€169.95").wait_for()
    press(page.get_by_role("button", name="Put it into the shop"))
    page.wait_for_url(re.compile("ring-oak"))
    assert "in the shop" in page.get_by_role("status").inner_text()
    page.locator("#f-bands-0-price").fill("200")
    page.locator("#f-bands-0-price").press("Enter")  # which drops no band
    page.wait_for_url(re.compile("done=kept"))
    assert len(fresh_site.services.listings.get("ring-oak").bands) == 2
    press(page.get_by_role("link", name="Take it out of the shop"))
    press(page.get_by_role("button", name="Take it out"))
    assert "out of the shop" in page.get_by_role("status").inner_text()


@pytest.mark.parametrize("scripts", [True, False])
def test_a_spreadsheet_is_mended_matched_and_read_in(fresh_site, page_of, scripts):
    page = page_of(fresh_site, f"{LIST}/import", scripts=scripts, locale="de-AT")
    page.get_by_label("The file").set_input_files(csv(FILE.format(to="12")))
    press(page.get_by_role("button", name="Look at it"))
    page.get_by_role("alert").wait_for()
    for column, heading in (("sku", "Artikel"), ("title", "Name"), ("price", "Preis")):
        page.locator(f'[name="_column-{column}"]').select_option(heading)
    press(page.get_by_role("button", name="Look again"))
    page.get_by_text("99,90").wait_for()
    press(page.get_by_role("button", name="Read it in"))
    assert "read in" in page.get_by_role("status").inner_text()
    assert page.get_by_role("link", name="Ring", exact=True).is_visible()


def test_at_a_thousand_listings_pages_are_light_and_quick(fresh_site):
    many_listings(fresh_site.services)
    for path in (LIST, f"{LIST}?text=many", f"{LIST}/floors", f"{LIST}/many-7"):
        assert fresh_site.weight(path) < MOST_BYTES
    for path in (LIST, f"{LIST}/floors", f"{LIST}/many-7"):
        assert fresh_site.ratio(path, times=7) < 40
