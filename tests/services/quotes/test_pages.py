"""Quotes page by page: every one is seen once, in either direction."""

from __future__ import annotations

import pytest

from api.ports import QuoteFilter
from pricing.errors import InvalidInput


@pytest.fixture
def five(promises):
    """A workshop with five quotes; the third has a note."""
    for note in ("", "", "Für Änne", "", ""):
        promises.create(customer_note=note)
        promises.clock.advance(minutes=1)
    return promises


def numbers(page):
    return [int(quote.number[-1]) for quote in page.quotes]


def page(promises, limit, **more):
    wanted = QuoteFilter(now=promises.clock.now(), text=more.pop("text", ""))
    return promises.quotes.page(wanted, limit=limit, **more)


def test_pages_go_from_the_newest_to_the_oldest_and_back(five):
    first = page(five, 2)
    assert (numbers(first), first.newer, first.older) == ([5, 4], False, True)
    second = page(five, 2, past=first.quotes[-1].seq)
    assert (numbers(second), second.newer, second.older) == ([3, 2], True, True)
    last = page(five, 2, past=second.quotes[-1].seq)
    assert (numbers(last), last.newer, last.older) == ([1], True, False)
    back = page(five, 2, past=last.quotes[0].seq, newer=True)
    assert (numbers(back), back.newer, back.older) == ([3, 2], True, True)
    begin = page(five, 2, past=back.quotes[0].seq, newer=True)
    assert (numbers(begin), begin.newer, begin.older) == ([5, 4], False, True)


def test_the_oldest_page_begins_where_there_is_nothing_older(five):
    oldest = page(five, 2, newer=True)
    assert (numbers(oldest), oldest.newer, oldest.older) == ([2, 1], True, False)


def test_a_page_as_long_as_the_list_has_nothing_beyond(five):
    whole = page(five, 5)
    assert (numbers(whole), whole.newer, whole.older) == ([5, 4, 3, 2, 1], False, False)


def test_text_is_looked_for_whatever_its_form(five):
    assert numbers(page(five, 5, text=" FÜR A\u0308NNE ")) == [3]
    assert numbers(page(five, 5, text="2026-0004")) == [4]
    assert numbers(page(five, 5, text="%")) == []


@pytest.mark.parametrize("limit", [0, -1, 101])
def test_another_length_of_page_is_refused(promises, limit):
    with pytest.raises(InvalidInput, match="ask for 1 to 100") as refused:
        page(promises, limit)
    assert refused.value.path == ("limit",)


def test_a_page_may_be_the_longest(promises):
    assert numbers(page(promises, 100)) == []
