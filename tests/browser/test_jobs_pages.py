"""Jobs in a real browser: a phone beside the torch, with and without scripts."""

from __future__ import annotations

import re
from datetime import timedelta
from decimal import Decimal

import pytest

from api.ports.jobs import JobFilter
from api.services.jobs.terms import AttemptAsk, JobAsk
from api.services.quotes.terms import LineAsk, QuoteTerms
from pricing.ring_size import ring_size
from pricing.wish import Wish
from tests.browser.bench_site import (
    COIN,
    MOST_BYTES,
    MOST_TIMES,
    VIEWS,
    many_listings,
    no_violations,
)
from tests.browser.press import press

pytestmark = pytest.mark.slow

JOBS = "/bench/jobs"
PHONE = 360  # pixels
_EVERY = JobFilter()
BIG = 56  # pixels: the least height of what is pressed with dirty fingers
_PRESSED = ".clock button, .stages button, .ending button, .ending summary, #scale > *"


def opened(site, *sizes):
    """A job of an accepted quote, a line for each size."""
    asks = [
        LineAsk(coin=COIN, wish=Wish(size=ring_size("us", size)))
        for size in sizes or ("10",)
    ]
    quotes = site.services.quotes
    quote = quotes.accept(quotes.create(asks, QuoteTerms()).id, expected=None)
    return site.services.bench.jobs.open(JobAsk(quote=quote.id))


def worked(site):
    """Jobs in every state: timed with two lines, and completed."""
    bench = site.services.bench
    timed, done = opened(site, "10", "11"), opened(site)
    for outcome, stage in (("good", None), ("scrapped", "fold")):
        ask = AttemptAsk(
            outcome=outcome, stage=stage, minutes={"fold": Decimal(9)}, line=0
        )
        bench.attempts.add(timed.id, ask)
        bench.attempts.add(done.id, ask)
    bench.stopwatch.start(timed.id, "press")
    money = {"sold_price": Decimal(120)}
    bench.jobs.complete(done.id, expected=None, money=money)
    return timed, done


@pytest.mark.parametrize(("width", "scheme"), VIEWS)
def test_everybody_can_use_the_pages_full_empty_and_at_fault(
    fresh_site, page_of, width, scheme
):
    page = page_of(fresh_site, JOBS, width=width, scheme=scheme)
    no_violations(page)
    timed, done = worked(fresh_site)
    page.reload()
    no_violations(page)
    page.goto(f"{JOBS}/{timed.id}")
    for name in ("care", "scrap", "scale"):
        page.locator(f"#{name} > summary").click()
    no_violations(page)
    press(page.get_by_role("button", name="Keep the readings"))
    page.get_by_role("alert").wait_for()
    page.goto(f"{JOBS}/{done.id}")
    no_violations(page)
    page.goto(f"{JOBS}/{timed.id}/coins/1")
    no_violations(page)
    page.goto(f"{JOBS}/{timed.id}/money")
    page.get_by_role("textbox", name="Sold for").fill("much")
    press(page.get_by_role("button", name="Keep it", exact=True))
    page.get_by_role("alert").wait_for()
    no_violations(page)
    page.goto(f"{JOBS}/{timed.id}/done")
    no_violations(page)


@pytest.mark.parametrize(("width", "scheme"), VIEWS)
def test_everybody_can_use_the_pages_of_files(bench_site, page_of, width, scheme):
    page = page_of(bench_site, f"{JOBS}/import", width=width, scheme=scheme)
    no_violations(page)
    rows = b"job,outcome\nnobody,lost\n"
    file = {"name": "week.csv", "mimeType": "text/csv", "buffer": rows}
    page.get_by_label("The file").set_input_files(file)
    press(page.get_by_role("button", name="Look at it"))
    page.get_by_role("alert").wait_for()
    no_violations(page)


@pytest.mark.parametrize("scripts", [True, False])
def test_a_ring_is_made_with_a_phone_beside_the_torch(fresh_site, page_of, scripts):
    page = page_of(fresh_site, JOBS, width=PHONE, scripts=scripts)

    def pressed(name):
        press(page.get_by_role("button", name=name).first)
        return page.get_by_role("status").inner_text()

    assert "Press a stage to start" in pressed("Open its job")
    assert "It is timed" in pressed(re.compile(r"^Start 2\."))
    assert page.get_by_role("heading", name="Centre and punch is being timed").count()
    fresh_site.clock.time += timedelta(minutes=6)
    pressed(re.compile(r"^Go to 5\."))
    fresh_site.clock.time += timedelta(minutes=8, seconds=30)
    assert "Stopped" in pressed("Stop")
    page.get_by_text("On the scale …").click()
    page.get_by_label("Slug").fill("3.61")
    assert "readings are with the coin" in pressed("Keep the readings")
    page.get_by_text("It is scrapped …").click()
    assert "scrapped" in pressed("Scrapped at Fold over the cone")
    assert "at the bench again" in pressed("Take it back")
    assert "The coin is good" in pressed("This coin is good")
    press(page.get_by_role("link", name="The job is done …"))
    assert "The job is done" in pressed("The job is done")
    assert page.get_by_text("Realised margin").count()
    (job,) = fresh_site.services.bench.jobs.page(_EVERY, limit=5).jobs
    (coin,) = fresh_site.services.bench.jobs.log(job).attempts
    assert coin.minutes == {"punch": Decimal(6), "fold": Decimal("8.5")}
    assert (coin.outcome, coin.slug_g) == ("good", Decimal("3.61"))


def test_minutes_count_on_where_scripts_run(fresh_site, page_of):
    job = opened(fresh_site)
    fresh_site.services.bench.stopwatch.start(job.id, "fold")
    fresh_site.clock.time += timedelta(minutes=12)
    page = page_of(fresh_site, JOBS, width=PHONE)
    page.clock.install()
    for path in (JOBS, f"{JOBS}/{job.id}"):
        page.goto(path)
        ran = page.locator("[data-ran]")
        assert ran.inner_text().startswith("12 min ")
        page.clock.fast_forward(125_000)
        assert ran.inner_text().startswith("14 min ")


def test_what_is_pressed_at_the_bench_is_big(fresh_site, page_of):
    timed, _ = worked(fresh_site)
    page = page_of(fresh_site, f"{JOBS}/{timed.id}", width=320)
    page.locator("#scrap > summary").click()
    heights = page.eval_on_selector_all(
        _PRESSED, "all => all.map(one => one.getBoundingClientRect().height)"
    )
    assert len(heights) > 30
    assert min(heights) >= BIG


def test_pages_are_light_and_quick_with_many_listings(fresh_site):
    many_listings(fresh_site.services)
    timed, done = worked(fresh_site)
    for path in ("", "/new", f"/{timed.id}", f"/{timed.id}/coins/1", f"/{done.id}"):
        assert fresh_site.weight(f"{JOBS}{path}") < MOST_BYTES
        assert fresh_site.ratio(f"{JOBS}{path}") < MOST_TIMES
