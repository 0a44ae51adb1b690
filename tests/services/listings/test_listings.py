"""Listings made, changed and removed, each with its line in the audit trail."""

from __future__ import annotations

import threading
from decimal import Decimal

import pytest

from api.ports import Conflict, NotFound, PreconditionFailed
from api.services.actor import Actor, acting
from api.services.listings.document import version
from pricing.errors import InvalidInput, NotMakeable, UnknownKey
from tests.services.promising import BOOK, DOLLAR, Promises
from tests.services.selling import Seller, asked, band


@pytest.fixture
def seller(promises):
    return Seller(promises)


def test_a_listing_is_kept_as_it_was_asked_for(seller, clock):
    with acting(Actor(by="Ada")):
        made = seller.create(
            band("10", "12", "200"),
            band(),
            title=" A ring ",
            kind="ready_made",
            coin=DOLLAR,
            extras=("box",),
            published=True,
            actual_cost=Decimal("41.20"),
        )
    assert seller.listings.get("ring-1") == made
    assert (made.title, made.coin, made.extras) == ("A ring", DOLLAR, ("box",))
    assert (made.kind, made.actual_cost) == ("ready_made", Decimal("41.20"))
    assert (made.published, made.locked, made.revision) == (True, False, 1)
    assert (made.changed_by, made.created_at) == ("Ada", clock.now())
    assert made.changed_rev == seller.rev() == 1
    assert seller.prices() == [("5", "9.5", "189.95"), ("10", "12", "200.00")]


def test_making_one_is_noted_with_its_prices(seller):
    seller.create()
    [(action, subject, before, after)] = seller.noted()
    assert (action, subject, before) == ("listing.added", "ring-1", None)
    assert after["title"] == "A band ring"
    assert after["bands"] == [{"from": "5", "to": "9.5", "price": "189.95"}]
    assert not {"sku", "currency", "changed_at"} & set(after)


def test_a_sku_can_be_used_once_at_a_time(seller):
    seller.create()
    with pytest.raises(Conflict, match="ring-1"):
        seller.create(title="Another")
    assert (seller.rev(), len(seller.noted())) == (1, 1)
    seller.create(sku="RING-1")
    seller.listings.remove("ring-1")
    assert seller.create(title="Another").title == "Another"


@pytest.mark.parametrize(
    ("bands", "members", "error"),
    [
        ((), {"title": ""}, InvalidInput),
        ((), {"coin": "nothing"}, UnknownKey),
        ((band("0", "0.25", None),), {}, NotMakeable),
    ],
)
def test_what_cannot_be_is_refused_and_leaves_nothing(seller, bands, members, error):
    with pytest.raises(error):
        seller.create(*bands, **members)
    assert (seller.rev(), seller.noted()) == (0, [])
    old = seller.create()
    with pytest.raises(error):
        seller.listings.replace("ring-1", asked(*bands, **members))
    assert seller.listings.get("ring-1") == old


def test_without_a_book_there_are_no_listings(storage, clock):
    seller = Seller(Promises(storage, clock))
    for act in (seller.create, seller.listings.currency):
        with pytest.raises(NotFound, match="no price book"):
            act()


def test_a_listing_is_changed_whole(seller, clock):
    old = seller.create(band("5", "6", "10"), band("7", "8", "20"), published=True)
    clock.advance(hours=1)
    with acting(Actor(by="Bea")):
        new = seller.listings.replace(
            "ring-1", asked(band("5", "6", "12"), sku="ignored", title="New")
        )
    assert seller.listings.get("ring-1") == new
    assert (new.sku, new.title, new.published) == ("ring-1", "New", False)
    assert (new.seq, new.revision, new.created_at) == (old.seq, 2, old.created_at)
    assert (new.changed_by, new.changed_at) == ("Bea", clock.now())
    assert new.changed_rev == seller.rev() == 2
    action, subject, before, after = seller.noted()[-1]
    assert (action, subject) == ("listing.changed", "ring-1")
    assert set(before) == set(after) == {"title", "published", "bands"}
    assert (before["title"], after["title"]) == ("A band ring", "New")
    moves = seller.listings.history("ring-1", limit=1).moves
    assert [(move.old, move.new, move.by) for move in moves] == [
        (10, 12, "Bea"),
        (20, None, "Bea"),
    ]


def test_the_same_again_is_no_change(seller):
    old = seller.create(band(price=None))
    seller.promises.spots.enter("XAG", Decimal(60), "EUR")
    for again in (asked(band(price=None)), asked(band(price=str(old.bands[0].price)))):
        assert seller.listings.replace("ring-1", again) == old
    assert (seller.rev(), len(seller.noted())) == (1, 1)


def test_a_change_is_for_the_version_that_was_seen(seller):
    seen = version(seller.create())
    seller.listings.replace("ring-1", asked(title="New"), expected=seen)
    for act in (
        lambda: seller.listings.replace("ring-1", asked(), expected=seen),
        lambda: seller.listings.remove("ring-1", expected=seen),
    ):
        with pytest.raises(PreconditionFailed):
            act()
    assert seller.listings.get("ring-1").title == "New"
    seller.listings.remove("ring-1", expected=version(seller.listings.get("ring-1")))


def test_a_removed_listing_is_gone_and_noted_and_its_history_stays(seller):
    seller.create()
    seller.listings.remove("ring-1")
    for act in (
        lambda: seller.listings.get("ring-1"),
        lambda: seller.listings.remove("ring-1"),
        lambda: seller.listings.replace("ring-1", asked()),
    ):
        with pytest.raises(NotFound):
            act()
    assert seller.rev() == 2
    action, subject, before, after = seller.noted()[-1]
    assert (action, subject, after) == ("listing.removed", "ring-1", None)
    assert before["bands"] == [{"from": "5", "to": "9.5", "price": "189.95"}]
    whys = [move.why for move in seller.listings.history("ring-1", limit=10).moves]
    assert whys == ["removed", "created"]


def test_what_is_gone_from_the_book_can_still_be_read_and_removed(seller):
    made = seller.create(band(price=None), extras=("box",))
    seller.promises.change_book(
        channels=[{"key": "x"}],
        policies=[{"key": "y", "target_margin": "0.1"}],
        extras=[],
    )
    assert seller.listings.get("ring-1") == made
    assert "ring-1" in seller.export()
    with pytest.raises(UnknownKey):
        seller.listings.replace("ring-1", asked(title="New", extras=("box",)))
    seller.listings.remove("ring-1")


def test_prices_worked_out_before_are_not_worked_out_again(seller, monkeypatch):
    ask = asked(band(price=None))
    seller.listings.work_out(ask)
    assert seller.rev() == 0
    monkeypatch.setattr("api.services.repricings.compiled_bands.compile_band", None)
    assert seller.listings.create(ask).bands[0].price > 0


def test_of_many_changes_of_one_version_one_counts(any_storage, clock):
    seller = Seller(Promises(any_storage, clock))
    seller.promises.books.replace(BOOK, expected=None)
    seen = version(seller.create())
    ready, done = threading.Barrier(8), []

    def change(n):
        ready.wait()
        try:
            seller.listings.replace("ring-1", asked(title=f"No {n}"), expected=seen)
        except PreconditionFailed:
            done.append(False)
        else:
            done.append(True)

    threads = [threading.Thread(target=change, args=(n,)) for n in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert sorted(done) == [False] * 7 + [True]
    assert seller.listings.get("ring-1").revision == 2
    assert seller.rev() == 2
