"""A real browser before a real server: Chromium, headless, and quotes of every kind."""

from __future__ import annotations

import shutil
import threading
from dataclasses import dataclass
from urllib.parse import urlencode, urlsplit

import pytest
from playwright.sync_api import sync_playwright
from werkzeug.serving import make_server

from api.app import compose, create_app
from api.settings import Settings
from tests.browser import bench_site as bench_site_module
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


@pytest.fixture(scope="session")
def filled_database(tmp_path_factory):
    """A file with a workshop in it, made once, and the ids of what is in it."""
    file = tmp_path_factory.mktemp("bench") / "filled.sqlite3"
    services = compose(Settings(database=str(file)), clock=Clock())
    made = bench_site_module.fill(services)
    services.close()
    return file, made


@pytest.fixture(scope="module")
def bench_site(filled_database, tmp_path_factory):
    """The bench of a filled workshop, for the tests of one file."""
    file, made = filled_database
    copy = tmp_path_factory.mktemp("site") / "fineweight.sqlite3"
    shutil.copy(file, copy)
    with bench_site_module.serving(copy) as site:
        site.made = made
        yield site


@pytest.fixture
def fresh_site(filled_database, tmp_path):
    """The bench of a filled workshop, for one test that changes it."""
    file, made = filled_database
    copy = tmp_path / "fineweight.sqlite3"
    shutil.copy(file, copy)
    with bench_site_module.serving(copy) as site:
        site.made = made
        yield site


@pytest.fixture
def empty_site(tmp_path):
    """The bench of a workshop that has nothing yet."""
    with bench_site_module.serving(tmp_path / "empty.sqlite3") as site:
        yield site


@pytest.fixture
def page_of(browser):
    """Open a page of a site, with cookies of its own; no policy may be broken.

    page_of(bench_site, "/bench", width=320, scheme="dark", scripts=False)
    """
    opened, console = [], []

    def opening(site, path="/bench", **view):
        context = browser.new_context(
            base_url=site.origin,
            viewport={"width": view.get("width", 1280), "height": 900},
            color_scheme=view.get("scheme", "light"),
            java_script_enabled=view.get("scripts", True),
            locale=view.get("locale", "en-GB"),
            reduced_motion="reduce",
        )
        opened.append(context)
        page = context.new_page()
        page.set_default_timeout(8000)
        page.on("console", lambda one: console.append((one.type, one.text)))
        page.on("pageerror", lambda one: console.append(("error", str(one))))
        page.goto(path)
        return page

    yield opening
    for context in opened:
        context.close()
    # A refusal with its status is no fault of the page; all else is.
    faults = [said for kind, said in console if kind in {"error", "warning"}]
    assert not [said for said in faults if "Failed to load resource" not in said]
