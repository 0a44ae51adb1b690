"""A workshop in which something of every kind is there, or is going on."""

from __future__ import annotations

from contextlib import suppress
from dataclasses import replace
from datetime import timedelta
from decimal import Decimal

from api.ports import FeedFailed
from api.ports.hooks import HookMessage
from api.services.jobs.terms import JobAsk
from api.services.quotes.terms import LineAsk, QuoteTerms
from pricing.ring_size import ring_size
from pricing.wish import Wish
from tests.browser.bench_site import COIN, fill
from tests.browser.quotes import FINDS
from tests.http.workshop import BOOK
from tests.services.logbook import attempt, coins, log
from tests.web.feeding import ASSAY, Source

DAYS = 30
SLOW = 12
"""Rings of which each took far longer to fold than planned."""
RATES = {
    "title": "Rates of the day",
    "url": "https://rates.example/day.xml",
    "format": "ecb",
    "enabled": False,
}


class Feeds(Source):
    """One feed that answers, and one that does not."""

    def fetch(self, url, headers, *, secret_names, check=None):
        if "broken" in url:
            raise FeedFailed("feed_timeout", "The feed did not answer in time.")
        return super().fetch(url, headers, secret_names=secret_names, check=check)


def furnish(services, clock, source):
    """Fill an empty workshop, through the services alone; `source` is its fetcher."""
    fill(services)
    dearer = BOOK | {"labour": BOOK["labour"] | {"rate_per_hour": "33.00"}}
    services.price_books.replace(dearer, expected=1, note="A dearer hour")
    services.coins.add(replace(FINDS, key="finds"))
    _prices(services, clock, source)
    _quotes(services, clock)
    _runs(services)
    _jobs(services, clock)
    services.keys.create("shop", "The shop’s server")
    services.keys.revoke(services.keys.create("window", "An old page")[0].id)
    _hooks(services, clock)


def _hooks(services, clock):
    """One whose shop does not follow."""
    hook = services.hooks.add("https://shop.example/hooks", ("listing.prices_changed",))
    late = HookMessage(
        id=f"msg_{'0a' * 16}",
        hook=hook.id,
        event="listing.prices_changed",
        body="{}",
        created_at=clock.time,
        tries=2,
        due=clock.time + timedelta(minutes=30),
        answered=500,
        reason="http_status",
    )
    more = [replace(late, id=f"msg_{n:032x}", tries=0) for n in range(2)]
    services.snapshots.write(lambda unit: unit.hooks.add_messages([late, *more]))


def _prices(services, clock, source):
    """A month of prices, one that is held, a feed that fails, and two rates."""
    services.feeds.put("assay_office", ASSAY, expected=None)
    broken = ASSAY | {"title": "A list", "url": "https://broken.example/list.json"}
    services.feeds.put("broken", broken, expected=None)
    services.feeds.put("rates", RATES, expected=None)
    present = clock.time
    for back in range(DAYS, 0, -1):
        clock.time = present - timedelta(days=back)
        source.price = f"{27 + back % 7 * Decimal('0.2')}"
        services.spot_prices.fetch("assay_office")
    clock.time = present
    source.price = "41.00"
    services.spot_prices.fetch("assay_office")
    with suppress(FeedFailed):
        services.spot_prices.fetch("broken")
    services.spot_prices.enter("USD", Decimal("0.8612"), "EUR", note="The bank’s board")
    services.spot_prices.enter("XAG", Decimal("27.50"), "EUR")


def _quotes(services, clock):
    """Those of `fill`, and one of every other status."""

    def made(**terms):
        asks = [
            LineAsk(coin=COIN, wish=Wish(size=ring_size("us", size), quantity=2))
            for size in ("10", "6.5")
        ]
        return services.quotes.create(asks, QuoteTerms(**terms)).id

    services.quotes.decline(made(), expected=None)
    services.quotes.renew(made(deposit_share=Decimal("0.5")), expected=None)
    made(valid_hours=1)
    clock.time += timedelta(hours=2)


def _runs(services):
    """One that was undone, one that is in force, and previews."""
    runs = services.repricings
    undone = runs.preview(Decimal(33))
    runs.undo(runs.apply(undone.id, expected=None).id, expected=None)
    runs.apply(runs.preview(Decimal(29)).id, expected=None)
    runs.preview(Decimal(45))
    runs.preview()


def _jobs(services, clock):
    """One completed under its floor, one with a stopwatch that runs, one just begun."""
    bench = services.bench
    size = ring_size("us", "8.5")

    def opened(quantity=1):
        ask = JobAsk(sku="ring-50s", size=size, quantity=quantity)
        return bench.jobs.open(ask)

    done = opened(SLOW)
    slow = [attempt(minutes={"fold": f"{40 + n / 10}"}) for n in range(SLOW)]
    lost = attempt("scrapped", stage="fold")
    ask = log(lost, *slow, taken=(coins(SLOW + 1, "29.80"),), sold_price="1200")
    done = bench.jobs.change(done.id, ask, expected=None)
    bench.jobs.complete(done.id, expected=None, at=clock.now() - timedelta(hours=1))
    timed = opened()
    bench.attempts.add(timed.id, attempt(minutes={"fold": "8.5"}))
    bench.stopwatch.start(timed.id, "anneal_1")
    opened()
