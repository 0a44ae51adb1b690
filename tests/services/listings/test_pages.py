"""Listings and the history of their prices, page by page."""

from __future__ import annotations

from decimal import Decimal

import pytest

from api.ports import ListingFilter, NotFound
from pricing.errors import InvalidInput
from tests.services.promising import COIN, DOLLAR
from tests.services.selling import Seller, asked, band

ANY = ListingFilter()


@pytest.fixture
def seller(promises):
    found = Seller(promises)
    found.create(sku="a", title="One", published=True)
    found.create(sku="b", title="Two", coin=DOLLAR, channel="fair", locked=True)
    found.create(sku="c", title="Café", kind="ready_made", policy="trade")
    return found


def skus(page):
    return "".join(listing.sku for listing in page.listings)


def test_pages_go_back_from_the_newest_and_forward_again(seller):
    first = seller.listings.page(ANY, limit=2)
    assert (skus(first), first.older, first.newer) == ("cb", True, False)
    past = first.listings[-1].seq
    last = seller.listings.page(ANY, limit=2, past=past)
    assert (skus(last), last.older, last.newer) == ("a", False, True)
    back = seller.listings.page(ANY, limit=1, past=last.listings[0].seq, newer=True)
    assert (skus(back), back.older, back.newer) == ("b", True, True)
    oldest = seller.listings.page(ANY, limit=2, newer=True)
    assert (skus(oldest), oldest.older, oldest.newer) == ("ba", False, True)


@pytest.mark.parametrize(
    ("wanted", "found"),
    [
        ({"kind": "ready_made"}, "c"),
        ({"coin": COIN}, "ca"),
        ({"channel": "fair"}, "b"),
        ({"policy": "trade"}, "c"),
        ({"locked": True}, "b"),
        ({"locked": False}, "ca"),
        ({"published": True}, "a"),
        ({"published": False}, "cb"),
        ({"text": " CAFE\u0301 "}, "c"),
        ({"text": "%"}, ""),
        ({"text": "B"}, "b"),
        ({"coin": COIN, "published": True}, "a"),
    ],
)
def test_only_what_is_asked_for_is_listed(seller, wanted, found):
    assert skus(seller.listings.page(ListingFilter(**wanted), limit=10)) == found


@pytest.mark.parametrize("limit", [0, 101])
def test_a_page_has_1_to_100_entries(seller, limit):
    for ask in (
        lambda: seller.listings.page(ANY, limit=limit),
        lambda: seller.listings.history("a", limit=limit),
    ):
        with pytest.raises(InvalidInput) as refused:
            ask()
        assert refused.value.path == ("limit",)


def moves(page):
    return [
        (move.why, str(move.size_from.normalize()), move.old, move.new)
        for move in page.moves
    ]


def test_a_history_tells_what_changed_at_once_together(seller):
    seller.create(band("5", "6", "10"), band("7", "8", "11"), sku="d")
    seller.listings.replace(
        "d", asked(band("5", "6", "12"), band("7", "8", "13"), sku="d")
    )
    seller.listings.remove("d")
    first = seller.listings.history("d", limit=2)
    assert moves(first) == [
        ("removed", "5", 12, None),
        ("removed", "7", 13, None),
        ("edited", "5", 10, 12),
        ("edited", "7", 11, 13),
    ]
    assert first.older
    last = seller.listings.history("d", limit=2, past=first.moves[-1].rev)
    assert moves(last) == [
        ("created", "5", None, Decimal(10)),
        ("created", "7", None, Decimal(11)),
    ]
    assert not last.older


def test_beyond_the_first_change_there_is_nothing(seller):
    [move] = seller.listings.history("a", limit=1).moves
    page = seller.listings.history("a", limit=1, past=move.rev)
    assert (page.moves, page.older) == ((), False)


def test_a_sku_that_never_was_has_no_history(seller):
    with pytest.raises(NotFound):
        seller.listings.history("z", limit=1)
