"""Every component, looked at in every view; forms with and without scripts."""

from __future__ import annotations

import pytest
from playwright.sync_api import expect

from tests.browser.bench_site import MOST_BYTES, VIEWS, no_violations
from tests.browser.press import before_the_script, press

pytestmark = pytest.mark.slow

STYLE = "/bench/style"


@pytest.mark.parametrize(("width", "scheme"), VIEWS)
def test_every_component_can_be_used_by_everybody(bench_site, page_of, width, scheme):
    page = page_of(bench_site, STYLE, width=width, scheme=scheme)
    no_violations(page)
    press(page.get_by_role("button", name="Try it"))
    page.get_by_role("alert").wait_for()
    no_violations(page)


@pytest.mark.parametrize("scripts", [True, False])
def test_a_form_that_cannot_be_used_comes_back_as_it_was_typed(
    bench_site, page_of, scripts
):
    page = page_of(bench_site, STYLE, scripts=scripts, locale="de-AT")
    page.get_by_label("Name").fill("Anna’s <ring>")
    page.get_by_role("textbox", name="Price").fill("1.234")
    page.get_by_label("Target margin").fill("35,5")
    page.get_by_label("In a box").uncheck()
    press(page.get_by_role("button", name="Try it"))
    fault = page.get_by_role("alert").get_by_role("link")
    assert "write 1234 if you mean thousands, or 1,2340" in fault.inner_text()
    assert fault.inner_text().startswith("Price: ") == scripts
    assert page.get_by_label("Name").input_value() == "Anna’s <ring>"
    at_fault = page.locator("#f-price").evaluate("one => getComputedStyle(one).border")
    assert at_fault.startswith("2px")
    assert page.get_by_role("textbox", name="Price").input_value() == "1.234"
    assert page.get_by_label("Target margin").input_value() == "35,5"
    assert not page.get_by_label("In a box").is_checked()
    fault.click()
    assert page.evaluate("location.hash") == "#f-price"
    page.get_by_role("textbox", name="Price").fill("1234,50")
    press(page.get_by_role("button", name="Try it"))
    assert "nothing is kept" in page.get_by_role("status").inner_text()


def test_a_part_is_drawn_anew_while_one_types(bench_site, page_of):
    page = page_of(bench_site, STYLE)
    page.get_by_label("Name").fill("A ring")
    page.get_by_role("textbox", name="Price").fill("2345.60")
    page.locator("#heard").get_by_text("2,345.60").wait_for()
    assert page.get_by_role("status").inner_text() == "Understood."
    page.get_by_role("textbox", name="Price").fill("many")
    fault = page.locator("#heard").get_by_role("link", name="is not a number")
    assert fault.inner_text().startswith("Price: ")
    assert page.get_by_label("Name").input_value() == "A ring"


def test_what_is_typed_before_the_script_is_there_is_understood_too(
    bench_site, page_of
):
    page = page_of(bench_site)

    def typing():
        page.get_by_label("Name").fill("A ring")
        page.get_by_role("textbox", name="Price").fill("2345.60")

    before_the_script(page, typing)
    page.goto(STYLE)
    page.locator("#heard").get_by_text("2,345.60").wait_for()


@pytest.mark.parametrize("begun", [True, False])
def test_faults_are_gone_to_unless_one_has_gone_elsewhere_by_then(
    bench_site, page_of, begun
):
    page = page_of(bench_site, STYLE)
    price, faults = page.get_by_role("textbox", name="Price"), page.get_by_role("alert")
    price.fill("many")
    before_the_script(page, price.focus if begun else faults.wait_for)
    press(page.get_by_role("button", name="Try it"))
    expect(price if begun else faults).to_be_focused()


def test_a_page_is_light(bench_site):
    assert bench_site.weight(STYLE) < MOST_BYTES
