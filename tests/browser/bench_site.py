"""The pages of the bench on a real server, and what every page is held to."""

from __future__ import annotations

import re
import threading
import time
from contextlib import contextmanager
from dataclasses import dataclass, field
from decimal import Decimal
from statistics import median
from urllib.parse import urljoin

from axe_playwright_python.sync_playwright import Axe
from werkzeug.serving import make_server

from api.app import PAGES, compose, create_app
from api.services.quotes.terms import LineAsk, QuoteTerms
from api.settings import Settings
from api.web.pages import Page, Pages
from pricing.ring_size import ring_size
from pricing.wish import Wish
from tests.architecture.source import ROOT
from tests.browser.quotes import Clock
from tests.http.workshop import BOOK, SPOT
from tests.thoroughness import thorough

PHONE, DESK = 320, 1280  # pixels
VIEWS = thorough(
    quick=[(PHONE, "light"), (DESK, "dark")],
    full=[(width, one) for width in (PHONE, DESK) for one in ("light", "dark")],
)
"""In which every page is looked at: width [px] and scheme."""
COIN = "at_50s_1959_1973"
MOST_BYTES = 100_000
"""Of a page with all it loads [B]."""
MOST_TIMES = 100
"""How long the server may work on a page, in times an empty one, which takes 2 ms."""
RULES = {
    "runOnly": [
        "wcag2a",
        "wcag2aa",
        "wcag21a",
        "wcag21aa",
        "wcag22aa",
        "best-practice",
    ],
    "rules": {"target-size": {"enabled": True}},
    "resultTypes": ["violations"],
    "preload": False,  # no rule of these reads style sheets by itself
}
_OVERHANGING = """() => [...document.querySelectorAll('body *')]
    .filter(one => !one.closest('.box, .unseen, .skip'))
    .filter(one => one.getBoundingClientRect().right > innerWidth + 0.5)
    .map(one => one.outerHTML.slice(0, 80))"""
_LOADED = re.compile(r'(?:href|src)="(/static/[^"]+)"')
_axe = Axe()

blank = Pages("blank", title="Blank")


@blank.get("/bench/blank")
def blank_page(_):
    """The frame with nothing in it, to measure others by."""
    return Page("bench/frame.html")


@dataclass
class Site:
    """A server of the bench.

    Attributes:
        made: ids of what was put in, by name.
    """

    origin: str
    services: object
    clock: Clock
    app: object
    made: dict[str, object] = field(default_factory=dict)

    def fetch(self, path):
        """The answer to a GET on this machine, without a browser."""
        return self.app.test_client().get(path)

    def weight(self, path):
        """What a page weighs with its style, pictures and script [B]."""
        page = self.fetch(path)
        assert page.status_code == 200, (path, page.status_code)
        loaded = set(_LOADED.findall(page.text))
        return len(page.data) + sum(len(self.fetch(one).data) for one in loaded)

    def ratio(self, path, *, times=15):
        """How long the server works on a page, in times an empty page."""
        client = self.app.test_client()

        def taken(asked):
            began = time.thread_time()  # whatever else the machine is doing
            assert client.get(asked).status_code == 200
            return time.thread_time() - began

        for asked in ("/bench/blank", path):
            taken(asked)  # the first one fills what is kept
        both = [(taken("/bench/blank"), taken(path)) for _ in range(times)]
        return median(own for _, own in both) / median(empty for empty, _ in both)


@contextmanager
def serving(database, *, clock=None, sender=None, fetcher=None, **settings):
    """A server of the whole application on a port of this machine, in a thread."""
    settings = Settings(database=str(database), **settings)
    clock = clock or Clock()
    services = compose(settings, clock=clock, sender=sender, fetcher=fetcher)
    app = create_app(settings, services, pages=(*PAGES, blank))
    server = make_server("127.0.0.1", 0, app, threaded=True)
    thread = threading.Thread(target=server.serve_forever)
    thread.start()
    try:
        yield Site(f"http://127.0.0.1:{server.server_port}", services, clock, app)
    finally:
        server.shutdown()
        thread.join()
        server.server_close()
        services.close()


def fill(services):
    """A workshop with a book, a spot price, listings and quotes; ids by name."""
    services.price_books.replace(BOOK, expected=None)
    services.spot_prices.enter("XAG", SPOT, "EUR")
    services.listings.import_csv((ROOT / "demo/listings.csv").read_bytes())
    ask = LineAsk(
        coin=COIN, wish=Wish(size=ring_size("us", "10"), extras=("ring_box",))
    )
    terms = QuoteTerms(customer_note="For a wedding.", deposit_share=Decimal("0.5"))
    quotes = {one: services.quotes.create([ask], terms) for one in ("open", "accepted")}
    services.quotes.accept(quotes["accepted"].id, expected=None)
    return {name: quote.id for name, quote in quotes.items()}


def many_listings(services, count=1000):
    """So many listings more, each with a price of its own."""
    header = "sku,title,kind,coin,channel,policy,extras,locked,published,from,to,price"
    rows = (
        f"many-{n},Ring {n},made_to_order,{COIN},own_shop,retail,,false,true,5,12,"
        f"{100 + n % 90}.95"
        for n in range(count)
    )
    services.listings.import_csv("\r\n".join([header, *rows]).encode())


def violations(page, rules=RULES):
    """What axe finds wrong with a page, once all it needs is there."""
    page.wait_for_load_state()  # an alert can be seen before the style it waits for
    found = _axe.run(page, options=rules).response["violations"]
    return [
        (each["id"], [node["html"][:120] for node in each["nodes"]]) for each in found
    ]


def no_violations(page, rules=RULES):
    """Hold a page to WCAG 2.2 AA and best practice, and to its own width."""
    found, beyond = violations(page, rules), page.evaluate(_OVERHANGING)
    assert not found, found
    assert not beyond, beyond


def address(site, path):
    """Where a page is, as `page.wait_for_url` takes it."""
    return urljoin(site.origin, path)
