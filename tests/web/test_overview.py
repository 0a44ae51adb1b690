"""What the first page says wants attention."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import timedelta
from decimal import Decimal

import pytest

from api.ports import QuoteFilter
from api.services.jobs.terms import JobAsk
from api.services.quotes.terms import LineAsk, QuoteTerms
from pricing.ring_size import ring_size
from pricing.wish import Wish
from tests.browser.bench_site import COIN
from tests.browser.quotes import Clock
from tests.services.logbook import attempt, log

CARD = re.compile(
    r'<li class="envelope ?([a-z]*)">\s*<h2>(.*?)</h2>\s*<p class="value">(.*?)</p>'
    r'.*?<a href="(.*?)">',
    re.DOTALL,
)


@pytest.fixture
def clock():
    return Clock()


@pytest.fixture
def bench(desk_on, filled_copy, clock):
    desk = desk_on(filled_copy, clock=clock)
    desk.services.spot_prices.enter("XAG", Decimal("27.50"), "EUR")
    return desk


def cards(desk):
    """Title → urgency, figure and address."""
    found = CARD.findall(desk.get("/bench").text)
    return {title: (urgency, value, way) for urgency, title, value, way in found}


def test_the_root_leads_to_the_bench(desk):
    answer = desk.get("/")
    assert (answer.status_code, answer.headers["Location"]) == (303, "/bench")


def test_an_empty_workshop_is_led_to_begin(empty_desk):
    page = empty_desk.get("/bench")
    assert page.status_code == 200
    assert 'href="/bench/begin"' in page.text


def test_a_fresh_price_wants_no_attention(bench):
    urgency, value, way = cards(bench)["Silver, a troy ounce"]
    assert (urgency, value, way) == ("", "€27.50", "/bench/spot")
    assert "Nothing wants your attention." in bench.get("/bench").text


def test_a_stale_price_comes_first(bench, clock):
    clock.time += timedelta(days=9)
    title, (urgency, _, _) = next(iter(cards(bench).items()))
    assert (title, urgency) == ("Silver, a troy ounce", "bad")
    assert "One thing wants your attention." in bench.get("/bench").text


def test_prices_under_their_floor_are_counted(bench):
    assert "Next to reach its floor" in cards(bench)
    bench.services.spot_prices.enter("XAG", Decimal("90.00"), "EUR")
    urgency, value, way = cards(bench)["Under their floor"]
    assert (urgency, way) == ("bad", "/bench/listings")
    assert re.fullmatch(r"\d+ prices?", value)


def test_quotes_about_to_expire_are_told(bench, clock):
    [quote] = bench.services.quotes.page(open_ones(bench), limit=9).quotes
    assert cards(bench)["Open quotes"][:2] == ("", "1 quote")
    clock.time = quote.valid_until - timedelta(hours=3)
    bench.services.spot_prices.enter("XAG", Decimal("27.50"), "EUR")
    assert cards(bench)["Open quotes"][0] == "wait"
    clock.time = quote.valid_until + timedelta(hours=3)
    assert "Open quotes" not in cards(bench)


def test_of_quotes_that_were_not_looked_at_nothing_is_said(bench, clock, monkeypatch):
    monkeypatch.setattr("api.web.bench.matters._MOST", 1)
    [quote] = bench.services.quotes.page(open_ones(bench), limit=9).quotes
    clock.time = quote.valid_until - timedelta(hours=3)
    bench.services.spot_prices.enter("XAG", Decimal("27.50"), "EUR")
    ask = LineAsk(coin=COIN, wish=Wish(size=ring_size("us", "8")))
    bench.services.quotes.create([ask], QuoteTerms())
    assert cards(bench)["Open quotes"][1] == "1 or more quotes"
    page = bench.get("/bench").text
    assert "None of the newest expires within a day." in page


def open_ones(desk):
    return QuoteFilter(now=desk.services.clock.now(), status="open")


def test_jobs_at_the_bench_are_told_and_last_weeks_margin(bench, clock):
    [quote] = bench.services.quotes.page(accepted(bench), limit=9).quotes
    jobs = bench.services.bench.jobs
    job = jobs.open(JobAsk(quote=quote.id), log(attempt()))
    assert cards(bench)["At the bench"][:2] == ("", "1 job")
    jobs.complete(job.id, expected=job.version)
    assert "At the bench" not in cards(bench)
    clock.time += timedelta(days=7)
    bench.services.spot_prices.enter("XAG", Decimal("27.50"), "EUR")
    urgency, value, way = cards(bench)["Margin of 2026-W49"]
    assert urgency in {"good", "wait"}
    assert value.startswith("€")
    assert way == "/bench/week/2026-W49"


def test_a_week_that_went_well_still_tells_of_stages_that_differ(bench, clock):
    jobs = bench.services.bench.jobs
    ask = JobAsk(sku="ring-50s", size=ring_size("us", "8.5"), quantity=12)
    quick = [attempt(minutes={"fold": f"{3 + n / 100}"}) for n in range(12)]
    job = jobs.open(ask, log(*quick))
    jobs.complete(job.id, expected=job.version)
    clock.time += timedelta(days=7)
    bench.services.spot_prices.enter("XAG", Decimal("27.50"), "EUR")
    assert cards(bench)["Margin of 2026-W49"][0] == "wait"
    said = "1 job, as much as planned, or more; 1 thing to look at."
    assert said in bench.get("/bench").text


def accepted(desk):
    return QuoteFilter(now=desk.services.clock.now(), status="accepted")


def test_held_prices_wait(bench, monkeypatch):
    standing = bench.services.standings.of()
    held = replace(standing, waiting=2)
    monkeypatch.setattr(type(bench.services.standings), "of", lambda *_: held)
    assert cards(bench)["Prices held back"][:2] == ("wait", "2 prices")


def test_without_a_spot_price_it_is_asked_for(desk_on, tmp_path, clock, book_document):
    desk = desk_on(tmp_path / "bare.sqlite3", clock=clock)
    desk.services.price_books.replace(book_document, expected=None)
    assert cards(desk) == {"Spot": ("bad", "none", "/bench/spot")}
