"""What a storefront is shown: published listings, and no member too many."""

from __future__ import annotations

from dataclasses import fields
from decimal import Decimal

import pytest

from api.ports import NotFound
from api.services.window import listings as window_listings
from api.services.window.listings import (
    WindowBand,
    WindowCaution,
    WindowListing,
    WindowListings,
)
from pricing.coin_document import read_coin
from pricing.errors import InvalidInput
from tests.services.promising import CHANNEL, COIN
from tests.services.selling import asked, band
from tests.services.windowing import Storefront


@pytest.fixture
def store(promises):
    return Storefront(promises)


def names(kind):
    return {field.name for field in fields(kind)}


def test_the_members_that_are_shown_are_these_and_no_others():
    assert names(WindowListing) == {
        "sku",
        "title",
        "availability",
        "currency",
        "tax_included",
        "bands",
        "cautions",
    }
    assert names(WindowBand) == {"size_from", "size_to", "price"}
    assert names(WindowCaution) == {"code", "text"}


def test_a_published_listing_is_shown_with_the_prices_in_force(store):
    store.publish(band(), band("10", "12", "200"), extras=("box",))
    shown = store.window.get("ring-1")
    assert (shown.sku, shown.title) == ("ring-1", "A band ring")
    assert (shown.currency, shown.tax_included) == ("EUR", True)
    assert [(str(b.size_from), str(b.size_to), str(b.price)) for b in shown.bands] == [
        ("5", "9.5", "189.95"),
        ("10", "12", "200.00"),
    ]


@pytest.mark.parametrize(
    ("kind", "availability"),
    [("made_to_order", "made_to_order"), ("ready_made", "in_stock")],
)
def test_it_says_whether_it_lies_ready(store, kind, availability):
    store.publish(kind=kind)
    assert store.window.get("ring-1").availability == availability


def test_tax_comes_on_top_where_the_channel_says_so(store):
    store.publish(channel="fair")
    tax = {"rate": "0.20", "inclusive": False}
    assert store.window.get("ring-1").tax_included
    store.promises.change_book(channels=[CHANNEL, {"key": "fair", "tax": tax}])
    assert not store.window.get("ring-1").tax_included


def test_only_what_concerns_a_buyer_is_told(store):
    store.publish()
    codes = [each.code for each in store.window.get("ring-1").cautions]
    assert codes == ["metal_silver", "wide_band"]


def test_what_is_not_published_is_no_more_there_than_what_never_was(store):
    store.create(sku="hidden")
    with pytest.raises(NotFound) as hidden:
        store.window.get("hidden")
    store.listings.remove("hidden")
    with pytest.raises(NotFound) as gone:
        store.window.get("hidden")
    assert hidden.value.message == gone.value.message


@pytest.mark.parametrize("missing", ["channel", "coin"])
def test_what_cannot_be_sold_any_more_is_not_there_either(store, missing):
    coin = read_coin(
        {
            "key": "own",
            "gross_mass_g": "20",
            "fineness_permille": "900",
            "diameter_mm": "34",
        }
    )
    stored = store.promises.coins.add(coin)
    store.publish(coin="own", channel="fair")
    store.publish(sku="other")
    assert store.window.get("ring-1")
    if missing == "coin":
        store.promises.coins.remove("own", expected=stored.revision)
    else:
        store.promises.change_book(channels=[CHANNEL])
    with pytest.raises(NotFound, match="there is no listing 'ring-1'"):
        store.window.get("ring-1")
    shown = store.window.page(limit=10).listings
    assert [each.sku for each in shown] == ["other"]


def test_a_change_is_seen_at_once(store):
    store.publish()
    first = store.window.get("ring-1")
    assert store.window.get("ring-1") is first
    store.listings.replace("ring-1", asked(band(price="210"), published=True))
    assert store.window.get("ring-1").bands[0].price == Decimal(210)
    store.listings.replace("ring-1", asked(published=False))
    with pytest.raises(NotFound):
        store.window.get("ring-1")


def test_no_more_is_held_ready_than_said(store, monkeypatch):
    monkeypatch.setattr(window_listings, "MOST_KEPT", 2)
    for n in range(3):
        store.publish(sku=f"ring-{n}")
    shown = [store.window.get(f"ring-{n}") for n in (0, 1, 2)]
    assert store.window.get("ring-2") is shown[2]
    assert store.window.get("ring-0") is not shown[0]
    assert store.window.get("ring-0") == shown[0]


def test_within_a_transaction_it_is_read_as_that_sees_it(store):
    store.publish()

    def change(_):
        assert store.window.offered("ring-1")
        store.listings.replace("ring-1", asked(band(price="210"), published=True))
        return store.window.read("ring-1").shown.bands[0].price

    assert store.snapshots.transaction(change) == Decimal(210)
    store.create(sku="hidden")
    with pytest.raises(NotFound):
        store.window.read("hidden")


def test_published_listings_are_paged_newest_first(store):
    for n in range(5):
        store.publish(sku=f"ring-{n}", title=f"Ring {n}", coin=COIN)
        store.create(sku=f"hidden-{n}")
    first = store.window.page(limit=2)
    assert [each.sku for each in first.listings] == ["ring-4", "ring-3"]
    assert (first.older, first.newer) == (True, False)
    second = store.window.page(limit=2, past=first.places[-1])
    assert [each.sku for each in second.listings] == ["ring-2", "ring-1"]
    assert (second.older, second.newer) == (True, True)
    last = store.window.page(limit=2, past=second.places[-1])
    assert [each.sku for each in last.listings] == ["ring-0"]
    assert (last.older, len(last.places)) == (False, 1)
    back = store.window.page(limit=2, past=last.places[0], newer=True)
    assert back.listings == second.listings
    found = store.window.page(limit=10, text="ring 3").listings
    assert [each.sku for each in found] == ["ring-3"]
    assert store.window.page(limit=10, text="hidden").places == ()
    with pytest.raises(InvalidInput):
        store.window.page(limit=101)


def test_two_processes_show_the_same(store, promises):
    store.publish()
    other = WindowListings(
        promises.snapshots, books=promises.books, coins=promises.coins
    )
    assert other.get("ring-1") == store.window.get("ring-1")
