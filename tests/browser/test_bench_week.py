"""The week's page: read by everybody, printed, and what it proposes taken once."""

from __future__ import annotations

import io
from datetime import timedelta

import pytest
from pypdf import PdfReader

from tests.browser.bench_site import MOST_BYTES, VIEWS, no_violations
from tests.browser.press import press
from tests.contract.completed_jobs import MONDAY, job, lay, line, stage
from tests.http.workshop import BOOK

pytestmark = pytest.mark.slow

WEEK = "/bench/week/2026-W48"


def log(site):
    """A week with a job under its floor, and a stage that takes too long."""
    stages = [
        stage(one["key"], title=one["title"], tried=30, minutes=300 + 90 * slow,
              planned_minutes=300, difference_sq=400)
        for one in BOOK["stages"]
        for slow in [one["key"] == "fold"]
    ]  # fmt: skip
    lost = job(
        title="Ring <for> Anna",
        parts={"spoilage": "-51.20", "price": "3"},
        under_floor=True,
        cause="spoilage",
    )
    lay(
        site.services.storage,
        (lost, [line()], stages),
        (job(MONDAY + timedelta(days=2)), [line(), line("", place=1)], []),
    )
    return site


@pytest.fixture(scope="module")
def logged(bench_site):
    return log(bench_site)


@pytest.mark.parametrize(("width", "scheme"), VIEWS)
def test_the_week_can_be_read_by_everybody(logged, page_of, width, scheme):
    for path in (WEEK, "/bench/week/2026-W40", f"{WEEK}/proposals"):
        page = page_of(logged, path, width=width, scheme=scheme)
        no_violations(page)


def test_it_says_what_matters_first_and_in_words(logged, page_of):
    page = page_of(logged, WEEK, locale="de-AT")
    assert (
        page.locator(".lead")
        .inner_text()
        .startswith(
            "2026-W48: 2 jobs, margin 31.80 EUR, planned 80.00 (-48.20); 1 job is under"
        )
    )
    assert "Ring <for> Anna" in page.locator(".attention").inner_text()
    picture = page.get_by_role("img", name="From planned to realised margin")
    assert picture.count() == 1
    bridge = page.get_by_role("table", name="The same in figures")
    spoilage = bridge.get_by_role("row", name="Spoilage").inner_text()
    assert "51,20" in spoilage
    drawn = picture.locator("text").all_text_contents()
    assert any("Spoilage" in text and "51,20" in text for text in drawn)
    assert page.locator(".picture rect").count() > 3


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_what_falls_has_another_colour_than_what_rises(logged, page_of, scheme):
    page = page_of(logged, WEEK, scheme=scheme)
    colours = {
        kind: page.locator(f".picture .{kind} rect").first.evaluate(
            "one => getComputedStyle(one).fill"
        )
        for kind in ("fall", "rise", "whole")
    }
    assert len(set(colours.values())) == 3
    assert "rgb(0, 0, 0)" not in colours.values()


def test_it_can_be_printed_with_its_picture(logged, page_of):
    page = page_of(logged, WEEK)
    printed = PdfReader(io.BytesIO(page.pdf(format="A4")))
    words = " ".join(" ".join(x.extract_text().split()) for x in printed.pages)
    for said in (
        "Week 2026-W48",
        "What took the difference",
        "Spoilage",
        "no tax advice",
    ):
        assert said in words
    assert len(printed.pages) <= 6


def test_it_is_light_and_quick(logged):
    assert logged.weight(WEEK) < MOST_BYTES
    assert logged.fetch("/bench/week").headers["Location"].startswith("/bench/week/2")


def test_picture_and_table_can_be_saved(logged):
    picture = logged.fetch(f"{WEEK}/bridge.svg")
    assert picture.mimetype == "image/svg+xml"
    assert b"<style>" in picture.data
    assert "bridge-2026-W48.svg" in picture.headers["Content-Disposition"]
    assert logged.fetch("/bench/week/2026-W40/bridge.svg").status_code == 404
    table = logged.fetch(f"{WEEK}/week.csv")
    assert table.data.startswith(b"\xef\xbb\xbfrows_of,key,")  # the mark of UTF-8
    assert table.text.count("\r\njob,") == 2


@pytest.mark.parametrize("path", ["/bench/week/2026-W60", "/bench/week/x"])
def test_no_other_weeks_have_a_page(logged, path):
    assert logged.fetch(path).status_code == 404


def test_without_a_price_book_it_says_so(empty_site):
    answer = empty_site.fetch("/bench/week")
    assert answer.status_code == 200
    assert "no price book yet" in answer.text


@pytest.mark.parametrize("scripts", [True, False])
def test_what_is_ticked_is_seen_once_more_and_then_in_the_book(
    fresh_site, page_of, scripts
):
    site = log(fresh_site)
    page = page_of(site, f"{WEEK}/proposals", scripts=scripts)
    press(page.get_by_role("button", name="Look at what is ticked"))
    assert page.get_by_role("heading", name="What the bench proposes").count() == 1
    page.get_by_role("checkbox", name="Fold over the cone: attended").check()
    press(page.get_by_role("button", name="Look at what is ticked"))
    if scripts:  # axe waits for timers
        no_violations(page)
    assert "Version 2 of the price book" in page.locator("main").inner_text()
    assert site.services.price_books.current().version == 1
    press(page.get_by_role("button", name="Put them into the price book"))
    assert "in the price book" in page.get_by_role("status").inner_text()
    assert site.services.price_books.current().version == 2


def test_a_book_that_was_changed_meanwhile_is_shown_anew(fresh_site, page_of):
    site = log(fresh_site)
    page = page_of(site, f"{WEEK}/proposals")
    page.get_by_role("checkbox", name="Fold over the cone: attended").check()
    press(page.get_by_role("button", name="Look at what is ticked"))
    site.services.price_books.replace(BOOK | {"title": "Other"}, expected=1)
    press(page.get_by_role("button", name="Put them into the price book"))
    assert "nothing was written" in page.get_by_role("alert").inner_text()
    ticked = page.get_by_role("checkbox", checked=True)
    assert ticked.get_attribute("value") == "stages.fold.minutes"
    assert site.services.price_books.current().title == "Other"
