"""The demo's shop beside a real workshop, each at an origin of its own."""

from __future__ import annotations

import importlib
import re
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from decimal import Decimal

import pytest
from axe_playwright_python.sync_playwright import Axe

from api.app import compose, create_app
from api.services.listings.terms import BandAsk, ListingAsk
from api.settings import Settings
from tests.architecture.source import ROOT
from tests.browser.press import press
from tests.browser.quotes import CANARIES, SPOT, canary_book
from tests.browser.test_sheet import DESK, OVERHANGING, VIEWS, faults, view
from tests.browser.window_pages import choose, hold, priced, running

pytestmark = pytest.mark.slow

SKU = "ring-50s"
BANDS = (("5", "9.5"), ("9.75", "11"))


class Clock:
    """The time of day, and how far a test has moved it."""

    def __init__(self):
        self.ahead = timedelta()

    def now(self):
        return datetime.now(UTC) + self.ahead


@dataclass
class Street:
    """A workshop and a shop, and where they are."""

    services: object
    clock: Clock
    address: str
    shop: object = None
    shop_address: str = ""


@pytest.fixture(scope="module")
def street(tmp_path_factory):
    """Both at work, with keys of their own for the shop and its pages."""
    database = tmp_path_factory.mktemp("window") / "fineweight.sqlite3"
    settings = Settings(database=str(database), quota_window=9999, quota_holds=9999)
    clock = Clock()
    services = compose(settings, clock=clock)
    services.price_books.replace(canary_book(), expected=None)
    services.spot_prices.enter("XAG", SPOT, "EUR")
    services.listings.create(ring())
    with pytest.MonkeyPatch.context() as patch:
        patch.syspath_prepend(str(ROOT / "demo"))
        demo = importlib.import_module("shop")
    with running(create_app(settings, services)) as address:
        street = Street(services, clock, address)
        _, for_server = services.keys.create("shop", "shop")
        _, for_pages = services.keys.create("window", "pages")
        workshop = demo.Workshop(address, for_server)
        street.shop = demo.Shop(workshop, for_pages)
        with running(demo.create_shop(street.shop)) as street.shop_address:
            yield street
    services.close()


def ring(**prices):
    bands = tuple(
        BandAsk(size_from=Decimal(least), size_to=Decimal(most), price=prices.get(most))
        for least, most in BANDS
    )
    return ListingAsk(
        sku=SKU,
        title="Ring of a 50 schilling",
        kind="made_to_order",
        coin="at_50s_1959_1973",
        channel="own_shop",
        policy="retail",
        published=True,
        bands=bands,
    )


@pytest.fixture
def page_of(street, open_window):
    """The ring's page, with what was said against its policy."""
    street.clock.ahead = timedelta()
    street.shop.forget_prices()

    def opening(query=""):
        return open_window(f"{street.shop_address}/rings/{SKU}{query}")

    return opening


def price_of(street, band=1):
    return street.services.listings.get(SKU).bands[band].price


def order(page):
    press(page.get_by_role("button", name="Order at the held price"))
    return page.get_by_role("heading", level=1).text_content()


def test_a_size_is_picked_its_price_held_and_the_order_accepted(street, page_of):
    window = page_of()
    page = window.page
    choose(page, "10")
    held = re.search(r"Number of the hold: (\S+)\.", hold(page))[1]
    assert order(page) == "Ordered"
    assert f"{price_of(street)} EUR" in page.locator("dl").text_content()
    assert page.url.startswith(f"{street.shop_address}/orders/")
    quote = street.services.quotes.find(held)
    assert street.services.quotes.status(quote) == "accepted"
    assert window.console == []
    assert page.context.cookies() == []


def test_a_held_price_that_has_ended_is_refused_with_todays(street, page_of):
    page = page_of("?system=iso&size=62").page
    priced(page)
    hold(page)
    old = price_of(street)
    street.clock.ahead = timedelta(hours=25)
    street.services.listings.replace(SKU, ring(**{"11": old + 25}))
    assert order(page) == "The hold is over"
    assert f"{old + 25} EUR" in page.locator("main strong").text_content()
    street.clock.ahead = timedelta()  # the shop looks at the time of day
    press(page.get_by_role("link", name="Order at today's price"))
    priced(page)
    assert page.get_by_label("Ring size").input_value() == "62"
    hold(page)
    assert order(page) == "Ordered"
    assert f"{old + 25} EUR" in page.locator("dl").text_content()


def test_the_same_held_price_sent_again_is_one_order(street, page_of):
    page = page_of("?system=us&size=8").page
    priced(page)
    hold(page)
    token = page.evaluate("new FormData(document.forms[0]).get('token')")
    assert order(page) == "Ordered"
    before = len(street.shop.orders)
    again = page.request.post(f"{street.shop_address}/checkout", form={"token": token})
    assert again.url == page.url
    assert len(street.shop.orders) == before


def test_it_is_bought_by_keyboard_alone(street, page_of):
    page = page_of().page
    page.get_by_label("Ring size").wait_for()
    keys = ["Tab", "Enter", "Tab", "Tab", "End", "Tab", "Tab"]
    for key in keys:
        page.keyboard.press(key)
    priced(page)
    page.keyboard.press("Enter")
    page.locator(".held:not(:empty)").wait_for()
    page.keyboard.press("Tab")
    page.keyboard.press("Enter")
    page.get_by_role("heading", name="Ordered").wait_for()


@pytest.mark.parametrize("where", ["shelf", "ring", "held"])
def test_no_page_has_a_fault_leaks_or_breaks_its_policy(street, page_of, where):
    window = page_of("" if where == "ring" else "?system=us&size=10")
    page = window.page
    if where == "shelf":
        page.goto(street.shop_address)
    else:
        page.get_by_label("Ring size").wait_for()
    if where == "held":
        priced(page)
        hold(page)
    page.evaluate(Axe().axe_script)
    found = {}
    for width, scheme in VIEWS:
        view(window, width, scheme)
        found[width, scheme] = faults(window)
        assert page.evaluate(OVERHANGING) == []
    assert found == {each: {} for each in VIEWS}
    assert [text for text in window.console if "policy" in text.lower()] == []
    texts = [page.content(), *page.locator("main").all_inner_texts()]
    assert not {one for one in CANARIES if one in "".join(texts)}
    asked = {street.shop_address, street.address}
    assert {f"http://{host}" for host in window.hosts()} <= asked


def test_without_a_script_every_price_is_on_the_page(street, browser):
    context = browser.new_context(java_script_enabled=False)
    page = context.new_page()
    page.goto(f"{street.shop_address}/rings/{SKU}")
    assert page.locator(".plain").text_content().startswith("from ")
    assert f"{price_of(street)} EUR" in page.locator("table").text_content()
    context.close()


def test_linked_data_says_what_the_page_says(street, page_of):
    page = page_of().page
    said = page.locator("script[type='application/ld+json']").text_content()
    for band in range(len(BANDS)):
        assert f'"{price_of(street, band)}"' in said
    assert page.viewport_size["width"] == DESK
