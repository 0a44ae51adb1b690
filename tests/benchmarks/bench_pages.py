"""Every page of the bench beside an empty one, in a workshop with 1,000 listings more.

What counts is the time of the server, without a browser. Pages are found by walking
through the bench as links lead; none is named here.
"""

from __future__ import annotations

import gc
import os
import time
from contextlib import closing
from pathlib import Path
from statistics import median, quantiles
from tempfile import TemporaryDirectory

from api.app import PAGES, compose, create_app
from api.settings import Settings
from tests.benchmarks.contest import table
from tests.browser.bench_site import blank, many_listings
from tests.browser.busy_workshop import Feeds, furnish
from tests.browser.quotes import Clock
from tests.web.crawl import Crawl
from tests.web.desk import Desk

LISTINGS = 1000
ROUNDS = 15
EMPTY = "/bench/blank"
HEADINGS = ("page", "median ms", "slowest of ten ms", "x empty page", "kB")


def main() -> None:
    one_minute, *_ = os.getloadavg()
    print(f"load before: {one_minute:.1f} on {os.cpu_count()} cores")
    clock = Clock()
    source = Feeds(clock)
    with TemporaryDirectory() as folder:
        settings = Settings(database=str(Path(folder) / "pages.sqlite3"))
        services = compose(settings, clock=clock, fetcher=source)
        with closing(services):
            furnish(services, clock, source)
            many_listings(services, LISTINGS)
            services.repricings.preview()
            app = create_app(settings, services, pages=(*PAGES, blank))
            desk = Desk(app, services)
            found = Crawl(desk).examples
            measure(desk, {rule: found[rule][0] for rule in found})


def measure(desk: Desk, addresses: dict[str, str]) -> None:
    """The pages in turn, over and over, each beside the empty one."""
    taken: dict[str, list[float]] = {rule: [] for rule in addresses}
    empty: list[float] = []
    size = {rule: len(desk.get(one).data) for rule, one in addresses.items()}
    desk.get(EMPTY)
    gc.collect()
    for _ in range(ROUNDS):
        for rule, address in addresses.items():
            empty.append(seconds(desk, EMPTY))
            taken[rule].append(seconds(desk, address))
    first = median(empty)
    ordered = sorted(taken.items(), key=lambda each: -median(each[1]))
    rows = [(EMPTY, f"{first * 1e3:.1f}", f"{late(empty) * 1e3:.1f}", "1.0", "")]
    rows += [
        (
            rule,
            f"{median(times) * 1e3:.1f}",
            f"{late(times) * 1e3:.1f}",
            f"{median(times) / first:.1f}",
            f"{size[rule] / 1e3:.0f}",
        )
        for rule, times in ordered
    ]
    table(f"Pages with {LISTINGS:,} listings more", HEADINGS, rows)


def seconds(desk: Desk, address: str) -> float:
    begun = time.perf_counter()
    if desk.get(address).status_code != 200:
        raise RuntimeError(f"{address} is not there")
    return time.perf_counter() - begun


def late(times: list[float]) -> float:
    """What nine of ten stay under."""
    return quantiles(times, n=10, method="inclusive")[-1]


if __name__ == "__main__":
    main()
