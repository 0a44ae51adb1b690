"""A newcomer's walk: from an empty database to a first quote, printed."""

from __future__ import annotations

import io

import pytest
from pypdf import PdfReader

from api.ports import QuoteFilter
from tests.architecture.source import ROOT
from tests.browser.press import press

pytestmark = pytest.mark.slow

FEWER_THAN = 12


class Hand:
    """What a person does; each click, typing, choice and chosen file counts as one."""

    def __init__(self, page):
        self.page = page
        self.deeds = []

    def click(self, name, role="button"):
        self.deeds.append(f"click {name}")
        press(self.page.get_by_role(role, name=name, exact=True))

    def type(self, label, text):
        self.deeds.append(f"type {text}")
        self.page.get_by_label(label).fill(text)

    def choose(self, label, text):
        self.deeds.append(f"choose {text}")
        self.page.get_by_label(label).select_option(label=text)

    def upload(self, label, file):
        self.deeds.append(f"choose {file}")
        self.page.get_by_label(label).set_input_files(ROOT / file)

    def print(self):
        self.deeds.append("print")
        return PdfReader(io.BytesIO(self.page.pdf()))


@pytest.mark.parametrize("scripts", [True, False])
def test_an_empty_workshop_has_its_first_quote_printed(empty_site, page_of, scripts):
    page = page_of(empty_site, "/bench", scripts=scripts)
    hand = Hand(page)
    hand.click("Begin", role="link")
    hand.upload("From a file", "demo/price_book.toml")
    hand.click("Use this book")
    hand.type("Price of one troy ounce", "27.50")
    hand.click("Enter it")
    hand.upload("Listings", "demo/listings.csv")
    hand.click("Read them in")
    hand.click("Price it")
    press(page.get_by_role("button", name="Promise").first)
    hand.deeds.append("click Promise")
    hand.click("Open it, to print", role="link")
    printed = hand.print()
    wanted = QuoteFilter(now=empty_site.clock.now())
    (quote,) = empty_site.services.quotes.page(wanted, limit=5).quotes
    assert quote.number in printed.pages[0].extract_text()
    assert len(hand.deeds) < FEWER_THAN, hand.deeds
