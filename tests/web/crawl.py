"""Walking through the bench from page to page, as far as links lead."""

from __future__ import annotations

from collections import Counter, defaultdict
from urllib.parse import parse_qsl, urlsplit

from werkzeug.exceptions import HTTPException

from api.app import PAGES
from tests.thoroughness import thorough
from tests.web.read_page import ReadPage

HOST = "http://localhost"
MOST_ALIKE = thorough(quick=3, full=50)
"""Addresses of one rule and with the same names in their query that are looked at."""
DECLARED = "its declaration"
RULES = tuple(
    dict.fromkeys(v.rule for p in PAGES for v in p.views if v.method == "GET")
)
"""The addresses of all pages as they are declared, with their parts in <>."""


class Crawl:
    """All pages that can be reached, each read once.

    Attributes:
        pages: those that were drawn, by their address.
        faults: what is wrong, in words: a link that leads nowhere, say.
        examples: rule of a page → addresses of it that were drawn.
        undrawn: rules of what leads on to a page, or is saved as a file.
    """

    def __init__(self, desk):
        self.desk = desk
        self.pages, self.faults = {}, []
        self.examples, self.undrawn = defaultdict(list), set()
        self._adapter = desk.app.url_map.bind("localhost")
        self._alike = Counter()
        self._seen, self._ahead = set(), []
        for rule in RULES:
            if "<" not in rule:
                self._add(rule, DECLARED)
        while self._ahead:
            self._look(*self._ahead.pop(0))

    def example(self, rule):
        """An address of a page; '' where it leads on, or is saved as a file."""
        if rule in self.examples:
            return self.examples[rule][0]
        assert rule in self.undrawn, f"no link leads to {rule}"
        return ""

    def rule(self, path, method="GET"):
        """The rule that answers a path; '' for none."""
        try:
            rule, _ = self._adapter.match(path, method, return_rule=True)
        except HTTPException:
            return ""
        return rule.rule

    def _look(self, address, came_from):
        path, query = urlsplit(address).path, urlsplit(address).query
        rule = self.rule(path)
        alike = rule, tuple(name for name, _ in parse_qsl(query))
        if not rule:
            self.faults.append(f"{came_from} leads to {path}, which is not there")
        elif self._alike[alike] < MOST_ALIKE:
            self._alike[alike] += 1
            self._open(address, rule, came_from)

    def _open(self, address, rule, came_from):
        answer = self.desk.get(address)
        if answer.status_code == 303:
            self.undrawn.add(rule)
            self._add(answer.headers["Location"], came_from)
        elif answer.status_code == 404 and came_from == DECLARED:
            pass  # there is nothing yet that it could show
        elif answer.status_code != 200:
            told = f"{came_from} leads to {address}: {answer.status_code}"
            self.faults.append(told)
        elif "Content-Disposition" in answer.headers:
            self.undrawn.add(rule)
        elif rule in RULES:
            self._read(address, rule, answer.text)

    def _read(self, address, rule, html):
        page = ReadPage(f"{HOST}{address}", html)
        self.pages[address] = page
        self.examples[rule].append(address)
        self.examples[rule].sort(key=lambda one: "?" in one)  # the plain ones first
        sent = [one for _, one in page.actions if self.rule(urlsplit(one).path)]
        for link in (*page.links, *page.loaded, *sent):
            if link.startswith(f"{HOST}/"):
                self._add(link.removeprefix(HOST), address)

    def _add(self, address, came_from):
        address = address.partition("#")[0]
        if address not in self._seen:
            self._seen.add(address)
            self._ahead.append((address, came_from))
