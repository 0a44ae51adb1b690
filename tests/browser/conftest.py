"""A real browser before a real server: Chromium, headless, and quotes of every kind."""

from __future__ import annotations

import threading
from dataclasses import dataclass
from urllib.parse import urlencode, urlsplit

import pytest
from playwright.sync_api import sync_playwright
from werkzeug.serving import make_server

from api.app import compose, create_app
from api.settings import Settings
from tests.browser import chromium, window_pages
from tests.browser.quotes import Clock, make_quotes


@pytest.fixture(scope="module")
def browser():
    """One browser for all tests, with a profile of its own, new and empty."""
    with sync_playwright() as playwright:
        started = playwright.chromium.launch(
            executable_path=chromium.path(), args=chromium.flags()
        )
        yield started
        started.close()


@dataclass(frozen=True)
class Served:
    """A server of the whole application, and some quotes by name."""

    origin: str
    services: object
    quotes: dict[str, object]

    def address(self, name: str) -> str:
        quote = self.quotes.get(name)
        return f"{self.origin}/quotes/{quote.sheet_token if quote else 'A' * 32}"


@pytest.fixture(scope="module")
def served(tmp_path_factory):
    """The application on a port of this machine, in a thread."""
    database = tmp_path_factory.mktemp("sheets") / "fineweight.sqlite3"
    settings = Settings(database=str(database), quota_sheets=10_000)
    clock = Clock()
    services = compose(settings, clock=clock)
    quotes = make_quotes(services, clock)
    server = make_server("127.0.0.1", 0, create_app(settings, services), threaded=True)
    serving = threading.Thread(target=server.serve_forever)
    serving.start()
    yield Served(f"http://127.0.0.1:{server.server_port}", services, quotes)
    server.shutdown()
    serving.join()
    server.server_close()
    services.close()


@dataclass
class Window:
    """A page in the browser, with all that it said and asked for."""

    page: object
    console: list[str]
    asked: list[str]

    def hosts(self) -> set[str]:
        return {urlsplit(address).netloc for address in self.asked}


@pytest.fixture(scope="module")
def context(browser):
    """Where pages are opened."""
    return browser.new_context()


@pytest.fixture
def open_window(context):
    """Open a page of a width and scheme; closed after the test."""
    opened = []

    def opening(address, *, width=1280, scheme="light"):
        page = context.new_page()
        opened.append(page)
        page.set_viewport_size({"width": width, "height": 800})
        page.emulate_media(color_scheme=scheme)
        window = Window(page, [], [])
        page.on("console", lambda message: window.console.append(message.text))
        page.on("pageerror", lambda error: window.console.append(str(error)))
        page.on("request", lambda request: window.asked.append(request.url))
        page.goto(address)
        return window

    yield opening
    for page in opened:
        page.close()


@pytest.fixture(scope="module")
def stand():
    """A server that answers as the window does, and a shop of another origin."""
    with window_pages.standing() as stand:
        yield stand


@pytest.fixture
def workshop(stand):
    """What the window answers, as it is at first."""
    stand.workshop.begin()
    return stand.workshop


@pytest.fixture
def shop(stand, workshop, open_window):
    """Open a page of the shop, with attributes of the element in it."""

    def opening(*, wait=True, **given):
        window = open_window(f"{stand.shop}/?{urlencode(given)}")
        window.page.evaluate(window_pages.LISTEN)
        if wait:
            window.page.get_by_label("Ring size").wait_for()
        return window

    return opening
