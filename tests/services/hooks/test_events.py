from __future__ import annotations

from dataclasses import replace

import pytest

from api.services.hooks.events import MOST_SKUS, tell_listings
from tests.services.hooking import URL
from tests.services.promising import ask
from tests.services.selling import asked, band, csv_file, row


def skus(told):
    return [each["sku"] for one in told for each in one["data"]["listings"]]


def test_where_nobody_wants_to_know_nothing_is_written_down(office):
    office.create()
    office.hook(events=["quote.expired"])
    office.create(sku="ring-2")
    assert office.happenings() is None


def test_what_happened_before_somebody_wanted_to_know_is_not_told(office):
    office.create()
    office.clock.advance(seconds=1)
    office.hook()
    assert office.told() == []


def test_listings_that_come_change_and_go_are_told(office):
    office.hook()
    office.create()
    assert skus(office.told()) == ["ring-1"]
    dearer = asked(band(price="199.95"), published=True)
    office.listings.replace("ring-1", dearer)
    [told] = office.told()
    assert told["data"]["listings"] == [
        {
            "sku": "ring-1",
            "published": True,
            "bands": [{"from": "5", "to": "9.5", "price": "199.95"}],
        }
    ]
    office.listings.remove("ring-1")
    [told] = office.told()
    gone = [{"sku": "ring-1", "published": False, "bands": []}]
    assert told["data"]["listings"] == gone


def test_what_nobody_sees_is_not_told(office):
    office.hook()
    office.create(published=False)
    office.listings.replace("ring-1", asked(band(price="1"), published=False))
    office.listings.remove("ring-1")
    office.create(sku="ring-2")
    office.told()
    office.listings.replace("ring-2", asked(published=True, sku="ring-2", title="New"))
    assert office.told() == []


def test_an_import_tells_of_what_it_changed(office):
    office.hook()
    office.create()
    office.told()
    rows = [row(published="true", price="250.00"), row("ring-2", published="true")]
    office.listings.import_csv(csv_file(*rows, row("hidden")))
    assert skus(office.told()) == ["ring-2", "ring-1"]
    office.listings.import_csv(csv_file(*rows))
    assert office.told() == []


def test_many_listings_are_written_down_in_parts(office):
    office.hook()
    pairs = [(None, office.shop.listing(f"r{n}", published=True)) for n in range(250)]
    now = office.clock.now()
    office.storage.write(lambda unit: tell_listings(unit, now, pairs))
    found = office.happenings()
    assert len(found.skus) == MOST_SKUS == 100
    assert sum(len(each["data"]["listings"]) for each in office.told()) == 250


def test_a_repricing_is_one_row_whatever_it_moves(office):
    office.hook()
    prices = [(f"ring-{n}", ("5", "9.5", "100")) for n in range(30)]
    listings = [office.shop.listing(sku, band, published=True) for sku, band in prices]
    office.shop.list(*listings, office.shop.listing("hidden", ("5", "9.5", "100")))
    repricings = office.shop.repricings
    run = repricings.preview()
    named = office.moving(run)
    done = office.shop.applied(run, named)
    assert office.happenings().run == run.seq
    told = office.told()
    assert sorted(skus(told)) == sorted(sku for sku, _ in prices)
    new = office.shop.prices()
    for each in told[0]["data"]["listings"]:
        assert each["bands"][0]["price"] == f"{new[each['sku'], 5]:.2f}"
    repricings.undo(run.id, expected=done.version)
    back = office.told()
    assert {e["bands"][0]["price"] for e in back[0]["data"]["listings"]} == {"100.00"}
    assert back[0]["data"]["version"] > told[0]["data"]["version"]


def test_undone_before_it_is_told_the_last_state_is_told_both_times(office):
    office.hook()
    office.shop.list(office.shop.listing("a", ("5", "9.5", "100"), published=True))
    run = office.shop.repricings.preview()
    named = office.moving(run)
    done = office.shop.applied(run, named)
    office.shop.repricings.undo(run.id, expected=done.version)
    told = office.told()
    assert len(told) == 2
    for each in told:
        assert each["data"]["listings"][0]["bands"][0]["price"] == "100.00"


def test_a_change_that_is_not_committed_is_not_told(office):
    office.hook()
    now, new = office.clock.now(), office.shop.listing("a", published=True)

    def fails(unit):
        tell_listings(unit, now, [(None, new)])
        raise LookupError

    with pytest.raises(LookupError):
        office.storage.write(fails)
    assert office.happenings() is None


def test_an_accepted_quote_is_told_and_a_declined_one_is_not(office):
    office.hook(URL, ["quote.accepted"])
    quote, other = office.shop.create(ask()), office.shop.create(ask())
    office.shop.quotes.decline(other.id, expected=1)
    office.shop.quotes.accept(quote.id, expected=1)
    [told] = office.told()
    assert told["type"] == "quote.accepted"
    assert told["data"]["id"] == quote.id


def test_the_same_sizes_and_prices_are_the_same_to_see(office):
    office.hook()
    one = office.shop.listing("a", ("5", "9.5", "100"), published=True)
    moved = replace(one, title="Another", locked=True, revision=9)
    now = office.clock.now()
    office.storage.write(lambda unit: tell_listings(unit, now, [(one, moved)]))
    assert office.happenings() is None


def test_a_run_is_not_written_down_where_nobody_wants_to_know(office):
    office.shop.list(office.shop.listing("a", ("5", "9.5", "100"), published=True))
    office.shop.applied(office.shop.repricings.preview())
    assert office.happenings() is None
