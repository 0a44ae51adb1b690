"""The element that shows and holds a ring's price, on a page of another origin."""

from __future__ import annotations

import json
from datetime import timedelta
from decimal import Decimal
from importlib.resources import files

import pytest

from pricing.ring_size import ring_size
from tests.browser.press import press
from tests.browser.window_pages import CAUTION, LISTING, alert, choose, hold, priced

pytestmark = pytest.mark.slow

MOST_BYTES = 15_000


def test_before_a_size_is_chosen_the_least_price_is_shown(shop, workshop):
    page = shop().page
    assert page.locator(".total").text_content() == "from EUR\xa089.95"
    assert [asked for _, asked in workshop.asked] == ["/v1/window/listings/ring-a?"]
    assert page.get_by_role("group", name=LISTING["title"]).count() == 1


def test_a_size_has_a_price_with_its_tax_and_its_time(shop):
    page = shop().page
    choose(page, "9.5")
    assert page.locator(".total").text_content() == "EUR\xa089.95"
    note = page.locator(".note").text_content()
    assert note.startswith("Includes EUR\xa015.00 of tax. Made to order. This price st")
    assert page.locator(".cautions li").all_text_contents() == [CAUTION]
    choose(page, "10")
    page.get_by_text("EUR\xa0104.95").wait_for()


def test_several_are_priced_together(shop, workshop):
    workshop.listing = LISTING | {"tax_included": False, "availability": "in_stock"}
    page = shop(system="us", size="8").page
    page.get_by_label("Quantity").fill("3")
    page.keyboard.press("Tab")
    page.get_by_text("EUR\xa0269.85").wait_for()
    note = page.locator(".note").text_content()
    assert note.startswith("EUR\xa089.95 each. EUR\xa015.00 of tax is added. In stock.")


def test_the_sizes_are_those_that_fall_into_a_band(shop):
    page = shop().page
    bands = [(Decimal(one["from"]), Decimal(one["to"])) for one in LISTING["bands"]]

    def is_offered(system, mark):
        us = Decimal(ring_size(system, mark).marks()["us"])
        return any(least <= us <= most for least, most in bands)

    halves = [
        f"{letter}{half}"
        for letter in ("ABCDEFGHIJKLMNOPQRSTUVWXYZ", "Z+1", "Z+2", "Z+3")
        for letter in (letter if "+" not in letter else [letter])
        for half in ("", " 1/2")
    ]
    marks = {
        "us": [f"{Decimal(n) / 4:f}" for n in range(97)],
        "uk": halves,
        "iso": [str(n) for n in range(41, 77)],
        "jp": [str(n) for n in range(1, 40)],
        "ch": [str(n) for n in range(50)],
    }
    for system, all_marks in marks.items():
        page.get_by_label("Size system").select_option(system)
        options = page.locator("select").nth(1).locator("option")
        shown = [one.get_attribute("value") for one in options.all()][1:]
        assert shown == [one for one in all_marks if is_offered(system, one)], system


def test_another_system_keeps_the_nearest_size(shop, workshop):
    page = shop(system="us", size="10").page
    page.get_by_label("Size system").select_option("uk")
    assert page.get_by_label("Ring size").input_value() == "T 1/2"
    priced(page)
    assert "system=uk&size=T+1%2F2&quantity=1" in workshop.asked[-1][1]


def test_a_held_price_is_told_handed_over_and_sent_with_the_form(shop, workshop):
    page = shop(required="").page
    choose(page, "10")
    told = hold(page)
    assert told.startswith("EUR\xa0104.95 is held for you until ")
    assert told.endswith("Number of the hold: 2026-0001.")
    button = page.get_by_role("button", name="This price is held")
    assert button.get_attribute("aria-disabled") == "true"
    assert "stands until" not in page.locator(".note").text_content()
    [[name, detail]] = page.evaluate("heard")
    assert name == "ring-price-held"
    assert detail == json.loads(json.dumps(next(iter(workshop.holds.values()))))
    press(page.get_by_role("button", name="Order"))
    page.wait_for_url("**/order")
    assert json.loads(page.locator("body").text_content()) == {"token": "a.token.1"}


def test_without_a_held_price_the_form_is_not_sent(shop):
    page = shop(required="").page
    page.get_by_role("button", name="Order").click()
    assert page.evaluate("document.activeElement.localName") == "ring-price"
    assert page.url.endswith("required=")


def test_the_form_can_be_sent_at_once_and_under_a_name(shop):
    page = shop(system="iso", size="62", submit="", name="held_price").page
    page.get_by_role("button", name="Hold this price").click()
    page.wait_for_url("**/order")
    assert json.loads(page.locator("body").text_content()) == {
        "held_price": "a.token.1"
    }


def test_what_is_held_is_for_what_was_chosen_alone(shop, workshop):
    page = shop().page
    choose(page, "10")
    hold(page)
    choose(page, "8")
    assert [name for name, _ in page.evaluate("heard")] == [
        "ring-price-held",
        "ring-price-cleared",
    ]
    assert page.evaluate("[...new FormData(document.forms[0])]") == []
    assert page.locator(".held").text_content() == ""
    hold(page)
    assert len(workshop.holds) == 2


def test_a_hold_that_was_lost_is_asked_for_again_with_the_same_key(shop, workshop):
    page = shop(system="us", size="10").page
    priced(page)
    keys = []
    page.on("request", lambda one: keys.append(one.headers.get("idempotency-key")))
    workshop.refusals += [(503, {}, {}), (409, {}, {})]
    button = page.get_by_role("button", name="Hold this price")
    button.click()
    assert alert(page).startswith("That did not work.")
    button.click()
    page.get_by_text("cannot be held at the moment").wait_for()
    hold(page)
    [key] = workshop.holds
    assert [sent for sent in keys if sent] == [key] * 3
    assert len(key) == 36


def test_a_price_that_moved_before_it_was_held_is_said(shop, workshop):
    page = shop(system="us", size="10").page
    priced(page)
    workshop.held_total = "109.95"
    told = hold(page)
    assert told.startswith("EUR\xa0109.95 is held")
    assert told.endswith("Before, EUR\xa0104.95 was shown.")


def test_a_hold_ends_by_the_clock_and_todays_price_is_shown(shop, workshop):
    workshop.held_for = timedelta(seconds=1)
    page = shop(system="us", size="10").page
    priced(page)
    workshop.prices["104.95"] = Decimal("119.95")
    page.get_by_role("button", name="Hold this price").click()
    page.get_by_text("The hold is over.").wait_for()
    page.get_by_text("EUR\xa0119.95").wait_for()
    assert page.evaluate("[...new FormData(document.forms[0])]") == []


def test_asked_to_refresh_it_shows_the_new_price(shop, workshop):
    page = shop(system="us", size="10").page
    priced(page)
    workshop.prices["104.95"] = Decimal("119.95")
    page.evaluate("document.querySelector('ring-price').refresh()")
    page.get_by_text("EUR\xa0119.95").wait_for()
    assert page.get_by_label("Ring size").input_value() == "10"


REFUSALS = (
    (429, {"Retry-After": "17"}, {}, "again in 17 seconds"),
    (422, {}, {"detail": "Only US 5 to 13."}, "Only US 5 to 13."),
    (403, {}, {}, "may not ask for prices"),
    (500, {}, {}, "did not work"),
)


def test_a_refusal_is_said_in_words_until_the_next_answer(shop, workshop):
    page = shop().page
    for *refusal, words in REFUSALS:
        workshop.refusals.append(refusal)
        page.get_by_label("Ring size").select_option("10")
        assert words in alert(page)
        page.get_by_label("Ring size").select_option("9")
        priced(page)
        assert page.locator(".error").text_content() == ""


def test_what_is_missing_is_asked_for(shop):
    page = shop().page
    page.get_by_role("button", name="Hold this price").click()
    assert alert(page) == "Choose a ring size first."
    focused = "document.querySelector('ring-price').shadowRoot.activeElement.className"
    assert page.evaluate(focused) == "input"
    choose(page, "10")
    page.get_by_label("Quantity").fill("1.5")
    page.keyboard.press("Tab")
    assert alert(page) == "Give a whole number from 1 to 99 as the quantity."


NOWHERE = (
    ({"sku": "none"}, "This ring is not offered at the moment."),
    ({"key": "wrong"}, "may not ask for prices"),
    ({"server": "http://127.0.0.1:9"}, "The workshop cannot be reached."),
)


def test_where_nothing_is_known_the_plain_price_stays(shop):
    for given, says in NOWHERE:
        page = shop(wait=False, **given).page
        assert says in alert(page)
        assert page.get_by_text("from 89.95 EUR").is_visible()


def test_without_a_script_the_plain_price_is_shown(browser, stand):
    context = browser.new_context(java_script_enabled=False)
    page = context.new_page()
    page.goto(stand.shop)
    assert page.get_by_text("from 89.95 EUR").is_visible()
    context.close()


def test_it_weighs_less_than_15_kb():
    script = (files("api.web") / "static" / "ring-price.js").read_bytes()
    assert 10_000 < len(script) < MOST_BYTES
