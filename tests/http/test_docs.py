"""The pages for people: whole, linked, and readable without a script."""

from __future__ import annotations

import mimetypes
import re
from html import unescape
from html.parser import HTMLParser
from itertools import pairwise

import pytest

from api.app import RESOURCES
from api.problems import PROBLEMS
from tests.http.fakes import bearer, probe


class Outline(HTMLParser):
    """Headings, links, ids and what does not belong, of one page."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.headings: list[str] = []
        self.links: list[str] = []
        self.loaded: list[str] = []
        self.ids: list[str] = []
        self.tags: set[str] = set()
        self.inline: list[str] = []
        self.lang = None
        self.feed(text)

    def handle_starttag(self, tag, attrs):
        given = dict(attrs)
        self.tags.add(tag)
        if re.fullmatch("h[1-6]", tag):
            self.headings.append(tag)
        if tag == "html":
            self.lang = given.get("lang")
        if tag == "a":
            self.links.append(given["href"])
        self.loaded += [given[name] for name in ("src",) if name in given]
        if tag == "link":
            self.loaded.append(given["href"])
        if "id" in given:
            self.ids.append(given["id"])
        self.inline += [name for name in given if name == "style" or name[:2] == "on"]


def outline(client, path: str) -> Outline:
    answer = client.get(path)
    assert answer.status_code == 200, path
    assert answer.content_type == "text/html; charset=utf-8"
    return Outline(answer.text)


@pytest.fixture
def pages(client):
    """Every page that can be reached from the first, by its address."""
    found: dict[str, Outline] = {}
    ahead = ["/docs"]
    while ahead:
        path = ahead.pop()
        if path in found or not path.startswith("/docs"):
            continue
        found[path] = outline(client, path)
        ahead += [link.partition("#")[0] for link in found[path].links]
    return found


def test_every_page_is_well_made(pages):
    for path, page in pages.items():
        assert page.lang == "en", path
        assert page.headings.count("h1") == 1, path
        assert page.headings[0] == "h1", path
        assert page.links[0] == "#sheet", path
        assert len(page.ids) == len(set(page.ids)), path
        levels = [int(heading[1]) for heading in page.headings]
        steps = [b - a for a, b in pairwise(levels)]
        assert all(step <= 1 for step in steps), path


def test_no_page_needs_a_script_or_loads_from_elsewhere(pages, client):
    for path, page in pages.items():
        assert not page.tags & {"script", "iframe", "style", "form"}, path
        assert not page.inline, path
        for address in page.loaded:
            assert address.startswith("/static/"), path
            assert client.get(address).status_code == 200, address


def test_every_link_leads_somewhere(pages, client):
    for path, page in pages.items():
        for link in page.links:
            target, _, fragment = link.partition("#")
            if target and not target.startswith("/docs"):
                assert client.get(target).status_code == 200, link
            elif fragment:
                assert fragment in pages[target or path].ids, link


def test_titles_are_unique(pages, client):
    titles = [re.search("<title>(.*?)</title>", client.get(p).text)[1] for p in pages]
    assert len(titles) == len(set(titles))


def test_every_operation_is_on_the_page_of_its_group(pages):
    for routes in (*RESOURCES, probe):
        slug = routes.title.lower().replace(" ", "-")
        for operation in routes.operations:
            assert operation.name in pages[f"/docs/{slug}"].ids


def test_an_operation_is_shown_with_all_there_is_to_know(client):
    text = client.get("/docs/probe-rings").text
    shown = re.sub(r"<[^>]+>|\u200b", "", text)
    for words in (
        "Take a ring",
        "It is forgotten at once.",
        "Needs a key that reaches bench.",
        "number as text, more than 0",
        "number as text, at least 0, less than 1",
        "whole number, 1 to 1000",
        "one of matt, bright",
        "list; each entry: the members below",
        "pieces[].label",
        "the members below, or null",
        "true or false",
        "time (RFC 3339)",
        "text, up to 200 characters",
        "curl -X POST",
        "If-Match: $ETAG",
        "This ring cannot be made from this coin",
        "Where it is.",
    ):
        assert words in shown.replace("&#34;", '"'), words
    assert "/v1/probe-rings/a_coin" in shown


def test_signs_and_free_names_can_be_told_from_words(client):
    shown = unescape(re.sub(r"<[^>]+>|\u200b", "", client.get("/docs/feeds").text))
    assert 'one of ".", ","' in shown
    assert r'one of ",", ";", "\t", "|"' in shown
    assert "one of troy_ounce, gram, kilogram" in shown
    assert "texts by name" in shown


def test_an_example_command_gives_the_address_with_its_query(client):
    text = client.get("/docs/ring-sizes").text
    assert "/v1/ring-sizes?system=us&amp;size=10" in text
    assert "Open: needs no key." in client.get("/docs/health").text


@pytest.mark.parametrize("slug", PROBLEMS)
def test_every_kind_of_problem_has_its_page(client, pages, slug):
    kind = PROBLEMS[slug]
    assert kind.page in pages
    text = client.get(kind.page).text
    assert str(kind.status) in text
    assert f"<code>{slug}</code>" in text


def test_problem_pages_are_listed_by_rising_status():
    statuses = [kind.status for kind in PROBLEMS.values()]
    assert statuses == sorted(statuses)


@pytest.mark.parametrize(
    "path",
    ["/docs/nothing", "/docs/problems/nothing", "/static/nothing.css", "/docs/"],
)
def test_a_page_that_is_not_there_is_a_page_too(client, path):
    answer = client.get(path)
    assert answer.status_code == 404
    assert answer.content_type == "text/html; charset=utf-8"
    assert Outline(answer.text).headings[0] == "h1"


def test_a_page_says_which_methods_it_takes(client):
    answer = client.post("/docs")
    assert answer.status_code == 405
    assert "GET" in answer.headers["Allow"]


def test_no_file_but_the_pages_own_is_served(client):
    for path in ("/static/..%2f..%2fapp.py", "/static/%2e%2e/app.py", "/static/."):
        assert client.get(path).status_code == 404


def test_pages_are_asked_for_again(client):
    assert client.get("/docs").headers["Cache-Control"] == "no-cache"
    style = client.get("/static/bench.css")
    again = client.get(
        "/static/bench.css", headers={"If-None-Match": style.headers["ETag"]}
    )
    assert again.status_code == 304


def test_a_script_is_one_also_where_the_system_calls_it_plain_text(client, monkeypatch):
    mimetypes.init()
    monkeypatch.setitem(mimetypes._db.types_map[True], ".js", "text/plain")
    assert mimetypes.guess_type("bench.js")[0] == "text/plain"
    assert client.get("/static/bench.js").mimetype.endswith("/javascript")


def test_pages_take_no_notice_of_a_key(client):
    assert client.get("/docs", headers=bearer("window")).status_code == 200
