"""Every page of the bench in a browser, as it is declared: none is listed here.

Each is looked at in a workshop where much goes on, in one that has nothing yet, and
after its forms were sent with nothing in them.
"""

from __future__ import annotations

import shutil
from dataclasses import dataclass, field

import pytest

from api.app import compose
from api.settings import Settings
from tests.browser.bench_site import (
    MOST_BYTES,
    PHONE,
    VIEWS,
    no_violations,
    serving,
)
from tests.browser.bench_site import (
    RULES as RULES_OF_AXE,
)
from tests.browser.busy_workshop import Feeds, furnish
from tests.browser.quotes import Clock
from tests.thoroughness import thorough
from tests.web.crawl import RULES, Crawl
from tests.web.desk import Desk

pytestmark = pytest.mark.slow

BY_VIEW = RULES_OF_AXE | {"runOnly": ["color-contrast", "target-size"]}
"""What a page that was looked at whole is held to in another view."""
WITHOUT_COLOURS = RULES_OF_AXE | {
    "rules": RULES_OF_AXE["rules"] | {"color-contrast": {"enabled": False}}
}
"""Those of faults and of empty sheets are held to on the page of the look."""
ONCE = thorough(quick=[(PHONE, "light")], full=VIEWS)
"""In which the empty pages, and those with faults, are looked at."""
NAMED = [rule for rule in RULES if "<" not in rule]
EVERY_PAGE = pytest.mark.parametrize("rule", RULES)

_LISTEN = """addEventListener("securitypolicyviolation", (one) =>
    console.error(`policy: ${one.violatedDirective} ${one.blockedURI}`))"""
_WEIGHT = """() => ["navigation", "resource"]
    .flatMap((kind) => performance.getEntriesByType(kind))
    .reduce((sum, one) => sum + one.decodedBodySize, 0)"""
_TYPED = "textarea, input:not([type=hidden], [type=checkbox], [type=radio])"
_FORMS = f"""() => [...document.querySelectorAll("main form[method=post]").entries()]
    .filter(([, form]) => form.querySelector("{_TYPED}"))
    .map(([number]) => number)"""
_SEND_BLANK = f"""(number) => {{
    const form = document.querySelectorAll("main form[method=post]")[number];
    form.querySelectorAll("{_TYPED}").forEach((field) => {{ field.value = ""; }});
    form.requestSubmit();
}}"""
_SHAPE = """() => [...document.querySelectorAll("body *")]
    .map((one) => `${one.localName}.${one.getAttribute("class")}`).join()"""


@dataclass
class Window:
    """The one page that all tests here use, and what was said in it."""

    page: object
    said: list[str] = field(default_factory=list)
    held: set[object] = field(default_factory=set)

    def __post_init__(self):
        self.page.on("console", self._console)
        self.page.on("pageerror", lambda error: self.said.append(str(error)))
        self.page.on("response", self._response)

    def _console(self, message):
        # Of a page that is refused the browser says so; that is no fault of it.
        refused = "Failed to load resource" in message.text
        if message.type in {"error", "warning"} and not refused:
            self.said.append(message.text)

    def _response(self, response):
        if response.status >= 400 and not response.request.is_navigation_request():
            self.said.append(f"{response.status} {response.url}")

    def look(self, site, address, view):
        """Open a page in a view: width [px] and scheme."""
        self.said.clear()
        self.turn(view)
        self.page.goto(site.origin + address)

    def turn(self, view):
        """Show the page that is open in another view."""
        width, scheme = view
        self.page.set_viewport_size({"width": width, "height": 900})
        self.page.emulate_media(color_scheme=scheme, reduced_motion="reduce")

    def hold(self, rules=RULES_OF_AXE):
        """Hold the page that is open to what everybody can use, and its weight."""
        no_violations(self.page, rules)
        assert self.page.evaluate(_WEIGHT) < MOST_BYTES
        assert not self.said

    def shows_new_parts(self, view):
        """Whether it has parts that no page had in this view; if thorough, yes."""
        parts = {(view, one) for one in self.page.evaluate(_SHAPE).split(",")}
        new = parts - self.held
        self.held |= parts
        return thorough(quick=bool(new), full=True)

    def hold_if_new(self, view):
        """Hold it; in a quick run not where one built of the same parts was."""
        shape = self.page.evaluate(_SHAPE), view
        if thorough(quick=shape in self.held, full=False):
            assert not self.said
        else:
            self.held.add(shape)
            self.hold(thorough(quick=WITHOUT_COLOURS, full=RULES_OF_AXE))


@pytest.fixture(scope="module")
def window(browser):
    """The page, in a context that tells of broken policies."""
    context = browser.new_context()
    context.add_init_script(_LISTEN)
    page = context.new_page()
    page.set_default_timeout(8000)
    yield Window(page)
    context.close()


@pytest.fixture(scope="module")
def sites(tmp_path_factory):
    """Servers of three workshops by name, and the addresses of the busy one's pages."""
    folder = tmp_path_factory.mktemp("sites")
    busy, posted, bare = (folder / f"{one}.sqlite3" for one in ("a", "b", "c"))
    clock = Clock()
    source = Feeds(clock)
    services = compose(Settings(database=str(busy)), clock=clock, fetcher=source)
    furnish(services, clock, source)
    services.close()
    shutil.copy(busy, posted)
    outside = {"clock": clock, "fetcher": source}
    with (
        serving(busy, **outside) as full,
        serving(posted, **outside) as sent,
        serving(bare) as empty,
    ):
        crawl = Crawl(Desk(full.app, full.services))
        yield {"busy": full, "posted": sent, "bare": empty, "crawl": crawl}


@EVERY_PAGE
def test_a_page_of_a_busy_workshop(sites, window, rule):
    address = sites["crawl"].example(rule)
    if address:
        window.look(sites["busy"], address, VIEWS[0])
        window.hold()
        for view in VIEWS[1:]:
            window.turn(view)
            if window.shows_new_parts(view):
                window.hold(thorough(quick=BY_VIEW, full=RULES_OF_AXE))


@pytest.mark.parametrize("rule", NAMED[:: thorough(quick=2, full=1)])
def test_a_page_of_a_workshop_that_has_nothing_yet(sites, window, rule):
    address = sites["crawl"].example(rule)
    for view in ONCE if address else ():
        window.look(sites["bare"], address, view)
        window.hold_if_new(view)


@pytest.mark.parametrize("rule", RULES[:: thorough(quick=3, full=1)])
def test_a_page_whose_form_was_sent_with_nothing_in_it(sites, window, rule):
    address = sites["crawl"].example(rule)
    for view in ONCE if address else ():
        window.look(sites["posted"], address, view)
        forms = window.page.evaluate(_FORMS)
        for number in forms[: thorough(quick=1, full=None)]:
            if number != forms[0]:
                window.look(sites["posted"], address, view)
            with window.page.expect_navigation():
                window.page.evaluate(_SEND_BLANK, number)
            window.hold_if_new(view)
