"""The customer's sheet as a person meets it: on a phone, at a desk, on paper."""

from __future__ import annotations

import io
import re

import pytest
from axe_playwright_python.sync_playwright import Axe
from pypdf import PdfReader

from tests.browser import chromium
from tests.browser.quotes import CANARIES, SPOT

pytestmark = pytest.mark.slow

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
}
STATES = ("open", "accepted", "expired", "many", "nobody's")
ALL = (*STATES, "declined", "renewed", "renewal", "bare")
PHONE, DESK = 320, 1280  # pixels
VIEWS = [(width, scheme) for width in (PHONE, DESK) for scheme in ("light", "dark")]
A4 = (595, 842)  # points
LEAKS = re.compile(
    "cost|margin|markup|labou?r|minutes|failure|overhead|supplier|profit|spot",
    re.IGNORECASE,
)
OVERHANGING = """() => [...document.querySelectorAll('body *')]
    .filter(one => one.getBoundingClientRect().right > innerWidth + 0.5)
    .filter(one => !one.closest('thead'))  // set aside where rows are stacked
    .map(one => one.outerHTML.slice(0, 80))"""
ZOOM = "document.documentElement.style.fontSize = '200%'"
SPACED = """() => {
    const sheet = new CSSStyleSheet()
    sheet.replaceSync(`* { line-height: 1.5 !important; letter-spacing: 0.12em
        !important; word-spacing: 0.16em !important }
        p { margin-bottom: 2em !important }`)
    document.adoptedStyleSheets = [sheet]
}"""
INK = """() => [...document.querySelectorAll('html, body, body *')].flatMap(one =>
    [null, '::before', '::after'].map(part => getComputedStyle(one, part))
    .filter(style => style.backgroundImage != 'none' ||
        !['rgba(0, 0, 0, 0)', 'rgb(255, 255, 255)'].includes(style.backgroundColor))
    .map(() => one.outerHTML.slice(0, 80)))"""
LIGHT = """() => [...document.querySelectorAll('body *')].filter(one =>
    getComputedStyle(one).color.match(/\\d+/g).slice(0, 3).some(part => part > 60))
    .map(one => one.outerHTML.slice(0, 80))"""


def printed(window):
    """What the browser prints, read back."""
    return PdfReader(io.BytesIO(window.page.pdf(prefer_css_page_size=True)))


def words(page) -> str:
    return " ".join(page.extract_text().split())


def view(window, width, scheme="light"):
    window.page.set_viewport_size({"width": width, "height": 800})
    window.page.emulate_media(color_scheme=scheme)


def faults(window):
    found = window.page.evaluate("options => axe.run(options)", RULES)["violations"]
    return {one["id"]: [node["target"] for node in one["nodes"]] for one in found}


@pytest.fixture
def open_with_axe(served, open_window):
    """A sheet with axe-core laid into it, which its policy would not let in."""

    def opening(state):
        window = open_window(served.address(state))
        window.page.evaluate(Axe().axe_script)
        return window

    return opening


@pytest.mark.parametrize("state", STATES)
def test_it_has_no_fault_that_axe_knows(open_with_axe, state):
    window = open_with_axe(state)
    found = {}
    for width, scheme in VIEWS:
        view(window, width, scheme)
        assert window.page.evaluate(
            f"matchMedia('(prefers-color-scheme: {scheme})').matches"
        )
        found[width, scheme] = faults(window)
    assert found == {each: {} for each in VIEWS}


def test_axe_looks_for_all_that_is_asked_and_finds_it(open_with_axe):
    window = open_with_axe("open")
    whole = {name: RULES[name] for name in ("runOnly", "rules")}
    found = window.page.evaluate("options => axe.run(options)", whole)
    kinds = ("passes", "violations", "inapplicable", "incomplete")
    ran = {rule["id"] for kind in kinds for rule in found[kind]}
    assert {"target-size", "color-contrast", "region", "empty-table-header"} <= ran
    assert len(ran) > 60
    window.page.evaluate("document.querySelector('.standing').style.color = '#ccc'")
    assert "color-contrast" in faults(window)


@pytest.mark.parametrize("state", STATES)
def test_it_loads_only_its_own_and_nothing_against_its_policy(
    served, open_window, state
):
    window = open_window(served.address(state))
    for width, scheme in VIEWS:
        view(window, width, scheme)
    assert {f"http://{host}" for host in window.hosts()} == {served.origin}
    assert [text for text in window.console if "404" not in text] == []
    assert window.page.evaluate("document.scripts.length") == 0


def test_a_break_of_the_policy_would_be_heard(served, open_window):
    window = open_window(served.address("open"))
    window.page.evaluate("document.body.append(document.createElement('style'))")
    with window.page.expect_console_message():
        window.page.evaluate("document.querySelector('style').textContent = 'p {}'")
    assert "Content Security Policy" in "".join(window.console)


@pytest.mark.parametrize("state", STATES)
def test_nothing_hangs_over_the_side(served, open_window, state):
    window = open_window(served.address(state))
    page = window.page
    for harder in ("", SPACED, ZOOM):
        page.evaluate(harder)
        for width in (PHONE, 480, DESK):
            view(window, width)
            assert page.evaluate("document.documentElement.scrollWidth") == width
            assert page.evaluate(OVERHANGING) == [], (width, harder)


def test_the_table_stays_one_where_its_columns_no_longer_fit(served, open_window):
    window = open_window(served.address("open"), width=PHONE)
    talk = window.page.context.new_cdp_session(window.page)
    tree = talk.send("Accessibility.getFullAXTree")["nodes"]
    roles = [node["role"]["value"] for node in tree if not node["ignored"]]
    assert roles.count("table") == 1
    assert roles.count("columnheader") == 4
    assert roles.count("rowheader") == 8
    assert roles.count("row") == 9


def test_it_weighs_little(served, open_window):
    window = open_window(served.address("open"))
    request = window.page.context.request
    weights = [len(request.get(address).body()) for address in window.asked]
    assert len(weights) >= 3
    assert sum(weights) < 100_000


def test_two_lines_are_printed_on_one_sheet_of_paper(served, open_window):
    pages = printed(open_window(served.address("open"))).pages
    assert len(pages) == 1
    size = pages[0].mediabox.width, pages[0].mediabox.height
    assert size == pytest.approx(A4, abs=1)
    text = words(pages[0])
    for told in (
        "Thornmoos ring bench, Brackelau",
        "Quote 2026-0001",
        "Friday, 4 December 2026, 13:00 (Vienna time, UTC+1)",
        "ring size US 10",
        "ring size UK L",
        "Total to pay",
        "Tax of 20 %, included in the total",
        "Deposit, due on acceptance",
        "For a wedding in May. Measure in the evening.",
        "900 silver",
        "Page 1 of 1",
    ):
        assert told in text, told
    assert "Whoever" not in text


def test_the_printed_total_is_the_quotes(served, open_window):
    quote = served.quotes["open"]
    text = words(printed(open_window(served.address("open"))).pages[0])
    euros, cents = divmod(int(quote.total * 100), 100)
    assert re.search(f"{euros:,}".replace(",", " ?") + rf"\.{cents:02} ?EUR", text)


@pytest.mark.parametrize("state", ALL)
def test_no_cost_stands_on_any_sheet_or_on_paper(served, open_window, state):
    window = open_window(served.address(state))
    on_paper = "".join(words(page) for page in printed(window).pages)
    shown = {str(SPOT)} if state == "many" else set()
    for text in (on_paper, window.page.content()):
        assert text
        assert not {one for one in CANARIES if one in text} - shown
        assert not LEAKS.search(text)
    assert all(one in on_paper for one in shown)


def test_the_bench_does_see_what_no_sheet_tells(served):
    document = str(served.services.quotes.document(served.quotes["open"]))
    for canary in ("9173.46", "CANARYSUPPLIER", "CANARYFEE", "31.4159", "0.297"):
        assert canary in document, canary


def test_rows_stay_whole_over_pages_and_the_sums_stand_once(served, open_window):
    pages = [words(page) for page in printed(open_window(served.address("many"))).pages]
    assert len(pages) > 2
    for number, text in enumerate(pages, 1):
        assert f"Page {number} of {len(pages)}" in text
        assert f"Quote {served.quotes['many'].number}" in text
        assert text.count("Teschen") == 3 * text.count("ring size US 10")
    with_rows = [text for text in pages if "Teschen" in text]
    assert all("Together" in text for text in with_rows)
    whole = " ".join(pages)
    assert whole.count("ring size US 10") == 50
    assert whole.count("Total to pay") == 1
    assert "alert(1)" in whole
    assert "{{7*7}}" in whole


def test_without_a_browser_it_is_said_what_to_install(monkeypatch):
    monkeypatch.setenv("PATH", "")
    monkeypatch.delenv("CHROMIUM", raising=False)
    with pytest.raises(pytest.fail.Exception, match="apt-get install chromium"):
        chromium.path()
    monkeypatch.setenv("CHROMIUM", "a browser")
    assert chromium.path() == "a browser"


@pytest.mark.parametrize("state", STATES)
def test_dark_or_light_it_is_printed_in_black_without_a_background(
    served, open_window, state
):
    window = open_window(served.address(state), scheme="dark")
    assert window.page.evaluate(INK) != []
    window.page.emulate_media(media="print", color_scheme="dark")
    assert window.page.evaluate(INK) == []
    assert window.page.evaluate(LIGHT) == []
