"""The first page and the way in, looked at in a browser."""

from __future__ import annotations

import pytest
from playwright.sync_api import expect

from tests.browser.bench_site import (
    MOST_BYTES,
    MOST_TIMES,
    VIEWS,
    many_listings,
    no_violations,
    serving,
)
from tests.browser.press import press
from tests.thoroughness import thorough

pytestmark = pytest.mark.slow

PASSPHRASE = "fold forge bore 71 bands"
LISTINGS = thorough(quick=200, full=1000)


@pytest.mark.parametrize(("width", "scheme"), VIEWS)
def test_the_first_page_can_be_used_by_everybody(bench_site, page_of, width, scheme):
    no_violations(page_of(bench_site, "/", width=width, scheme=scheme))


@pytest.mark.parametrize(("width", "scheme"), VIEWS)
def test_an_empty_bench_and_what_is_not_there(empty_site, page_of, width, scheme):
    no_violations(page_of(empty_site, "/bench", width=width, scheme=scheme))
    no_violations(page_of(empty_site, "/bench/none", width=width, scheme=scheme))


@pytest.mark.parametrize("scripts", [True, False])
def test_one_signs_in_goes_on_and_signs_out(tmp_path, page_of, scripts):
    with serving(tmp_path / "strict.sqlite3", sign_in="always") as site:
        site.services.sessions.set_passphrase(PASSPHRASE)
        page = page_of(site, "/bench/style", scripts=scripts, width=320)
        page.get_by_label("Passphrase of the workshop").fill("not this one")
        press(page.get_by_role("button", name="Sign in"))
        assert "not the passphrase" in page.get_by_role("alert").inner_text()
        if scripts:
            no_violations(page)
        page.get_by_label("Passphrase of the workshop").fill(PASSPHRASE)
        with page.expect_navigation():
            page.keyboard.press("Enter")
        assert page.get_by_role("heading", name="The look of the bench").is_visible()
        press(page.get_by_role("link", name="Sign out"))
        press(page.get_by_role("button", name="Sign out"))
        assert "signed out" in page.get_by_role("status").inner_text()
        page.goto("/bench/style")
        assert page.get_by_role("button", name="Sign in").is_visible()


def test_the_skip_link_comes_first_and_leads_past_the_navigation(bench_site, page_of):
    page = page_of(bench_site, "/bench")
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.className") == "skip"
    page.keyboard.press("Enter")
    expect(page.locator("#sheet")).to_be_focused()


def test_it_is_light_and_quick_with_many_listings(fresh_site):
    many_listings(fresh_site.services, LISTINGS)
    assert fresh_site.weight("/bench") < MOST_BYTES
    assert fresh_site.ratio("/bench") < MOST_TIMES
