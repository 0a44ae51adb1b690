"""What holds of every page of the bench, whichever it is: none is listed here."""

from __future__ import annotations

import shutil
from collections import Counter, defaultdict
from urllib.parse import urlsplit

import pytest

from api.app import compose, create_app
from api.settings import Settings
from tests.browser.busy_workshop import Feeds, furnish
from tests.browser.quotes import Clock
from tests.web.crawl import HOST, RULES, Crawl
from tests.web.desk import Desk
from tests.web.read_page import ReadPage

BEGIN = "/bench/begin"
"""Where every page of a workshop without a price book leads."""
SITES = pytest.mark.parametrize("site", ["busy", "bare"])


@pytest.fixture(scope="module")
def busy_file(tmp_path_factory):
    """A workshop with something of every kind, and the time it is there."""
    file = tmp_path_factory.mktemp("busy") / "busy.sqlite3"
    clock = Clock()
    source = Feeds(clock)
    services = compose(Settings(database=str(file)), clock=clock, fetcher=source)
    furnish(services, clock, source)
    services.close()
    return file, clock.time


@pytest.fixture(scope="module")
def open_desk():
    """Open a bench on a file for the whole of this module."""
    opened = []

    def opening(file, clock):
        settings = Settings(database=str(file))
        services = compose(settings, clock=clock, fetcher=Feeds(clock))
        opened.append(services)
        return Desk(create_app(settings, services), services)

    yield opening
    for services in opened:
        services.close()


@pytest.fixture(scope="module")
def crawl(busy_file, open_desk, tmp_path_factory):
    """What a walk found, by the kind of workshop; each walked once."""
    folder = tmp_path_factory.mktemp("crawled")
    found = {}

    def crawled(site):
        if site not in found:
            file, clock = folder / f"{site}.sqlite3", Clock()
            if site == "busy":
                shutil.copy(busy_file[0], file)
                clock.time = busy_file[1]
            found[site] = Crawl(open_desk(file, clock=clock))
        return found[site]

    return crawled


@SITES
def test_every_link_leads_to_a_page_and_every_form_to_where_it_is_taken(crawl, site):
    found = crawl(site)
    assert not found.faults
    nowhere = [
        (address, method, action)
        for address, page in found.pages.items()
        for method, action in page.actions
        if not found.rule(urlsplit(action).path, method)
    ]
    assert not nowhere


def test_links_lead_to_every_page_that_is_declared(crawl):
    found = crawl("busy")
    assert set(RULES) - found.undrawn - found.examples.keys() == set()
    assert len(found.examples) > 10


@SITES
def test_the_key_enter_neither_drops_nor_adds_a_row(crawl, site):
    forms = [
        (address, form)
        for address, page in crawl(site).pages.items()
        for form in page.forms
        if form.typed
    ]
    assert any(form.enter for _, form in forms)
    wrong = [
        (address, form.enter)
        for address, form in forms
        if (form.enter or "").startswith(("drop-", "add-"))
    ]
    assert not wrong


@SITES
def test_a_fragment_leads_to_something_on_its_page(crawl, site):
    found = crawl(site)
    lost = {
        (address, link)
        for address, page in found.pages.items()
        for link in page.links
        if "#" in link and not _there(found, link)
    }
    assert not lost


def _there(found, link):
    address, _, fragment = link.removeprefix(HOST).partition("#")
    page = found.pages.get(address)
    return page is None or fragment in page.ids


@SITES
def test_every_page_has_a_title_of_its_own_one_heading_and_a_language(crawl, site):
    found = crawl(site)
    texts = defaultdict(set)
    for address, page in found.pages.items():
        texts[page.title] |= {page.text} if "?" not in address else set()
    # Two addresses of one and the same sheet may share its title.
    assert not [title for title, different in texts.items() if len(different) > 1]
    for address, page in found.pages.items():
        assert (page.lang, page.headings) == ("en", 1), address
        assert page.title.removesuffix(" · Fineweight").strip(), address
        twice = [one for one, times in Counter(page.ids).items() if times > 1]
        assert not twice, address


@SITES
def test_every_page_has_a_way_back_to_a_page_above_it(crawl, site):
    found = crawl(site)
    lost = {
        address: above
        for address, page in found.pages.items()
        if (above := _above(found, urlsplit(address).path))
        and not (above | {BEGIN}) & {urlsplit(link).path for link in page.links}
    }
    assert not lost


def _above(found, path):
    """The pages whose addresses begin this one; the first page only where no other."""
    parts = path.split("/")
    above = {"/".join(parts[:end]) for end in range(3, len(parts))}
    return {one for one in above if found.rule(one) in RULES}


@pytest.fixture(scope="module")
def blank_posts(crawl, busy_file, open_desk, tmp_path_factory):
    """What comes of each form that is sent with nothing in it."""
    file, clock = tmp_path_factory.mktemp("blank") / "busy.sqlite3", Clock()
    shutil.copy(busy_file[0], file)
    clock.time = busy_file[1]
    desk = open_desk(file, clock=clock)
    answers = {}
    for addresses in crawl("busy").examples.values():
        answer = desk.get(addresses[0])
        for form in ReadPage(f"{HOST}{addresses[0]}", answer.text).forms:
            if form.method == "POST" and form.typed:
                sent = form.hidden | dict.fromkeys(form.typed, "")
                where = form.action.removeprefix(HOST)
                answers[addresses[0], where] = desk.open(
                    where, method="POST", data=sent
                )
    return answers


def test_a_form_with_nothing_in_it_is_answered_by_a_page(blank_posts):
    assert len(blank_posts) > 5
    broken = {
        where: answer.status_code
        for where, answer in blank_posts.items()
        if answer.status_code >= 500 or answer.status_code in {403, 404, 405, 415}
    }
    assert not broken
    refused = [one for one in blank_posts.values() if one.status_code != 303]
    assert len(refused) > 5
    for answer in refused:
        page = ReadPage(f"{HOST}/", answer.text)
        assert (page.lang, page.headings, answer.mimetype) == ("en", 1, "text/html")
        assert "Fineweight" in page.title
