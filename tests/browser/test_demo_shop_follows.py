"""Silver moves, the workshop applies new prices, and the demo's shop shows them.

The workshop is the server that `fineweight serve` starts, a process of its own, and
its own deliverer tells the shop.
"""

from __future__ import annotations

import importlib
import json
import re
from contextlib import closing
from dataclasses import dataclass, field
from decimal import Decimal
from threading import Event

import pytest
import requests
from axe_playwright_python.sync_playwright import Axe

from api.app import compose
from api.settings import Settings
from tests.architecture.source import ROOT
from tests.browser.press import press
from tests.browser.quotes import CANARIES, SPOT, canary_book
from tests.browser.test_demo_shop import SKU, ring
from tests.browser.test_sheet import VIEWS, faults, view
from tests.browser.window_pages import hold, priced, running
from tests.contract.two_servers import server

pytestmark = pytest.mark.slow

WAIT_S = 30
KEYS = ("bench", "shop", "window")
SETTINGS = {
    "hook_networks": "127.0.0.0/8",
    "hook_http": "on",
    "quota_window": "9999",
    "quota_holds": "9999",
}


@dataclass
class Street:
    """A workshop that is asked as its owner does, and a shop that it tells."""

    address: str
    key: str
    shop: object = None
    shop_address: str = ""
    told: list[dict] = field(default_factory=list)
    heard: Event = field(default_factory=Event)

    def ask(self, method, path, body=None, **headers):
        """The answer of the workshop to its owner."""
        sent = {"Authorization": f"Bearer {self.key}"} | headers
        place = f"{self.address}/v1/{path}"
        answer = requests.request(
            method, place, json=body, headers=sent, timeout=WAIT_S
        )
        assert answer.ok, answer.text
        return answer.json()

    def moved(self, spot):
        """Silver moves and all prices follow; the run, and the new ones in order."""
        self.ask("POST", "spot-prices", {"price": str(spot)})
        run = self.ask(
            "POST", "repricings", {}, **{"Idempotency-Key": f"silver-at-{int(spot)}"}
        )
        bands = self.ask("GET", f"repricings/{run['id']}/bands")["bands"]
        review = [
            {"sku": each["sku"], "from": each["from"]}
            for each in bands
            if each["decision"] == "review"
        ]
        done = self.decide(run, "apply", {"include": review})
        return done, [each["new_price"] for each in bands]

    def decide(self, run, what, body):
        """Apply or undo, and wait until the shop was told; the run."""
        self.heard.clear()
        match = {"If-Match": f'"repricing-{run["version"]}"'}
        done = self.ask("POST", f"repricings/{run['id']}/{what}", body, **match)
        assert self.heard.wait(WAIT_S)
        return done


@pytest.fixture(scope="module")
def street(tmp_path_factory):
    database = str(tmp_path_factory.mktemp("street") / "fineweight.sqlite3")
    with closing(compose(Settings(database=database))) as services:
        services.price_books.replace(canary_book(), expected=None)
        services.spot_prices.enter("XAG", SPOT, "EUR")
        services.listings.create(ring())
        keys = {one: services.keys.create(one, one)[1] for one in KEYS}
    with pytest.MonkeyPatch.context() as patch:
        patch.syspath_prepend(str(ROOT / "demo"))
        demo = importlib.import_module("shop")
    with server(database, **SETTINGS) as address:
        street = Street(address, keys["bench"])
        workshop = demo.Workshop(address, keys["shop"])
        street.shop = demo.Shop(workshop, keys["window"])
        listen(street)
        with running(demo.create_shop(street.shop)) as street.shop_address:
            url = f"{street.shop_address}/hook"
            body = {"url": url, "events": ["listing.prices_changed"]}
            hook = street.ask("POST", "hooks", body)
            street.shop.hook_secrets = (hook["secret"],)
            yield street


def listen(street):
    """Note what the shop hears, once it has done what follows from it."""
    hear = street.shop.hear

    def heard(message):
        hear(message)
        street.told.append(message)
        street.heard.set()

    street.shop.hear = heard


@pytest.fixture
def page_of(street, open_window):
    return lambda: open_window(f"{street.shop_address}/rings/{SKU}?system=us&size=10")


def shown(page):
    """What the page says: its table, its linked data and the element in it."""
    page.goto(page.url)
    priced(page)
    table = page.locator("tbody td").all_text_contents()
    data = page.locator("script[type='application/ld+json']").text_content()
    element = page.locator(".total").text_content()
    return table, set(re.findall(r'"price": "([0-9.]+)"', data)), digits(element)


def digits(text):
    return re.sub(r"[^0-9.]", "", text)


def says(prices):
    """What a page with these prices says where the second band's size is chosen."""
    return [f"{price} EUR" for price in prices], {*prices}, prices[1]


def test_a_shop_shows_new_prices_once_they_are_applied_and_the_old_when_undone(
    street, page_of
):
    window = page_of()
    page = window.page
    old = [band["price"] for band in street.ask("GET", f"listings/{SKU}")["bands"]]
    assert shown(page) == says(old)
    run, new = street.moved(SPOT * 3)
    assert not {*old} & {*new}
    assert shown(page) == says(new)
    page.goto(street.shop_address)
    assert f"from {min(new, key=Decimal)} EUR" in page.locator("main").text_content()
    page.go_back()
    street.decide(run, "undo", {})
    assert shown(page) == says(old)
    assert window.console == []


def test_what_was_held_before_is_sold_at_its_price_and_what_is_held_after_at_the_new(
    street, page_of
):
    before, after = page_of().page, page_of().page
    for page in (before, after):
        priced(page)
    old = digits(before.locator(".total").text_content())
    hold(before)
    _, new = street.moved(SPOT * 4)
    assert old not in new
    told = re.search(r"Before, (.+) was shown", hold(after))
    assert digits(told[1]) == old
    for page, price in ((before, old), (after, new[1])):
        press(page.get_by_role("button", name="Order at the held price"))
        assert page.get_by_role("heading", name="Ordered").is_visible()
        assert f"{price} EUR" in page.locator("dl").text_content()


def test_no_page_has_a_fault_breaks_its_policy_or_tells_a_cost(street, page_of):
    street.moved(SPOT * 5)
    window = page_of()
    page = window.page
    priced(page)
    page.evaluate(Axe().axe_script)
    found = {}
    for width, scheme in VIEWS:
        view(window, width, scheme)
        found[width, scheme] = faults(window)
    assert found == {each: {} for each in VIEWS}
    assert window.console == []
    told = page.content() + json.dumps(street.told)
    assert not {one for one in CANARIES if one in told}
    assert all({*each} == {"type", "timestamp", "data"} for each in street.told)
