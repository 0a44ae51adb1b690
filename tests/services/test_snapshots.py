"""One view of the storage: true at each request, loaded no more than needed."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from threading import Barrier
from unittest.mock import patch

import pytest

from api.services import Coins, Feeds, Keys, PriceBooks, Snapshots, SpotPrices
from pricing.catalogue import catalogue_coin
from tests.services.feeding import ASSAY

KEY = "at_50s_1959_1973"


class Counted:
    """A storage that counts what is asked of it."""

    def __init__(self, storage):
        self._storage = storage
        self.asked = []

    def __getattr__(self, name):
        found = getattr(self._storage, name)

        def counted(*given, **more):
            self.asked.append(name)
            return found(*given, **more)

        return counted


@pytest.fixture
def counted(storage):
    return Counted(storage)


@pytest.fixture
def snapshots(counted, clock):
    return Snapshots(counted, clock)


def test_what_did_not_change_is_not_loaded_again(snapshots, counted):
    first = snapshots.take()
    counted.asked.clear()
    assert snapshots.take() is first
    assert counted.asked == ["revisions"]


def test_a_change_made_elsewhere_is_seen_on_the_next_request(
    any_database, open_database, clock, book_document
):
    here, there = (Snapshots(open_database(any_database), clock) for _ in range(2))
    there.take()
    PriceBooks(here, clock).replace(book_document, expected=None)
    Coins(here, clock).add(catalogue_coin("at_50s_1959_1973"))
    Keys(here, clock).create("bench", "Bench")
    SpotPrices(here, clock).enter("XAG", "27.50", "EUR")
    Feeds(here, clock).put("assay", ASSAY, expected=None)
    seen = there.take()
    assert seen.book.about.version == 1
    assert list(seen.coins) == ["at_50s_1959_1973"]
    assert len(seen.keys) == 1
    assert list(seen.spots) == ["XAG"]
    assert list(seen.feeds) == ["assay"]


def test_a_held_request_asks_once_and_sees_one_state(
    snapshots, counted, storage, clock
):
    snapshots.take()
    counted.asked.clear()
    with snapshots.held():
        first = snapshots.take()
        with snapshots.held():
            Keys(Snapshots(storage, clock), clock).create("bench", "Elsewhere")
            assert snapshots.take() is first
        assert snapshots.take() is first
    assert counted.asked == ["revisions"]
    assert len(snapshots.take().keys) == 1


def test_a_held_request_asks_nothing_it_does_not_need(snapshots, counted):
    with snapshots.held():
        pass
    assert counted.asked == []


def test_what_is_presumed_is_true_once_a_count_says_so(snapshots, counted):
    known = snapshots.take()
    counted.asked.clear()
    with snapshots.held():
        assert snapshots.presume() is known
        assert snapshots.take() is known
        assert snapshots.count("anyone", window=60, limit=9).number == 1
        assert snapshots.take() is known
        snapshots.doubt()  # there is none any more
        assert snapshots.take() is known
    assert counted.asked == ["count"]


def test_what_is_presumed_and_was_changed_is_found_out_by_a_count(
    snapshots, storage, clock
):
    known = snapshots.take()
    Keys(Snapshots(storage, clock), clock).create("bench", "Elsewhere")
    with snapshots.held():
        assert snapshots.presume() is known
        assert snapshots.take() is known
        assert snapshots.count("anyone", window=60, limit=9).number == 1
        assert len(snapshots.take().keys) == 1


def test_what_is_presumed_can_be_asked_for_before(snapshots, storage, clock):
    known = snapshots.take()
    Keys(Snapshots(storage, clock), clock).create("bench", "Elsewhere")
    with snapshots.held():
        assert snapshots.presume() is known
        snapshots.doubt()
        assert len(snapshots.take().keys) == 1


def test_nothing_is_presumed_where_nothing_is_known_or_held(snapshots):
    with snapshots.held():
        assert snapshots.presume() is None
        known = snapshots.take()
    assert snapshots.presume() is None
    snapshots.doubt()
    assert snapshots.count("anyone", window=60, limit=9).number == 1
    with snapshots.held():
        snapshots.take()
        assert snapshots.presume() is None  # it has been asked for already
    assert snapshots.take() is known


def test_a_held_request_sees_its_own_change(snapshots, clock):
    keys = Keys(snapshots, clock)
    with snapshots.held():
        assert not snapshots.take().keys
        record, token = keys.create("bench", "Bench")
        assert keys.authenticate(token) == record


def test_a_request_that_failed_holds_nothing(snapshots, storage, clock):
    def fail():
        with snapshots.held():
            snapshots.take()
            raise RuntimeError

    with pytest.raises(RuntimeError):
        fail()
    Keys(Snapshots(storage, clock), clock).create("bench", "Elsewhere")
    assert len(snapshots.take().keys) == 1


def test_requests_in_threads_hold_their_own(snapshots, storage, clock):
    barrier = Barrier(2)
    keys = Keys(Snapshots(storage, clock), clock)

    def early():
        with snapshots.held():
            first = snapshots.take()
            barrier.wait(10)
            barrier.wait(10)
            return snapshots.take() is first, len(first.keys)

    def late():
        barrier.wait(10)
        keys.create("bench", "Meanwhile")
        with snapshots.held():
            seen = len(snapshots.take().keys)
        barrier.wait(10)
        return seen

    with ThreadPoolExecutor(2) as pool:
        first, second = pool.submit(early), pool.submit(late)
        assert first.result() == (True, 0)
        assert second.result() == 1


def test_threads_never_see_the_past(any_database, open_database, clock):
    ours, theirs = (open_database(any_database) for _ in range(2))
    snapshots = Snapshots(ours, clock)
    keys = Keys(Snapshots(theirs, clock), clock)
    made = []

    def look(_):
        known = len(made)
        return len(snapshots.take().keys) >= known

    with ThreadPoolExecutor(4) as pool:
        looks = []
        for i in range(10):
            made.append(keys.create("shop", f"Key {i}"))
            looks += [pool.submit(look, i) for _ in range(4)]
        assert all(each.result() for each in looks)


def test_what_services_write_in_a_transaction_is_one_change(snapshots, clock):
    keys, coins = Keys(snapshots, clock), Coins(snapshots, clock)

    def both(_):
        keys.create("bench", "Bench")
        coins.replace(KEY, catalogue_coin(KEY), expected=0)

    snapshots.transaction(both)
    found = snapshots.take()
    assert (len(found.keys), list(found.coins)) == (1, [KEY])


def test_of_a_transaction_that_fails_nothing_is_kept(snapshots, clock):
    keys = Keys(snapshots, clock)

    def fails(_):
        keys.create("bench", "Bench")
        raise LookupError

    with pytest.raises(LookupError):
        snapshots.transaction(fails)
    assert dict(snapshots.take().keys) == {}
    keys.create("bench", "Afterwards")
    assert len(snapshots.take().keys) == 1


def test_within_a_transaction_reading_sees_what_it_wrote(snapshots, storage):
    def count(unit):
        return len(unit.keys.all())

    def work(_):
        Keys(snapshots, snapshots._clock).create("bench", "Bench")
        return snapshots.read(count), storage.read(count)

    assert snapshots.transaction(work) == (1, 0)
    assert snapshots.read(count) == 1


def test_what_is_not_urgent_is_done_at_once_without_a_transaction(snapshots):
    done = []
    snapshots.afterwards(lambda: done.append(1))
    assert done == [1]


def test_what_is_not_urgent_waits_for_the_commit_of_the_outermost(snapshots, clock):
    keys, seen = Keys(snapshots, clock), []

    def look():
        seen.append(len(snapshots.storage.read(lambda unit: unit.keys.all())))

    def inner(_):
        keys.create("bench", "Bench")
        snapshots.afterwards(look)

    def outer(_):
        snapshots.transaction(inner)
        assert seen == []

    snapshots.transaction(outer)
    assert seen == [1]
    snapshots.afterwards(look)
    assert seen == [1, 1]


def test_what_is_not_urgent_is_left_out_with_the_rest_and_done_once(snapshots):
    done, tries = [], []

    def twice(work, **how):
        del how
        with pytest.raises(LookupError):
            work(None)
        return work(None)

    def collides(_):
        snapshots.afterwards(lambda: done.append(len(tries)))
        tries.append(1)
        if len(tries) % 2:
            raise LookupError

    with patch.object(snapshots.storage, "write", twice):
        snapshots.transaction(collides)
    assert done == [2]
    with pytest.raises(LookupError):
        snapshots.transaction(collides)
    assert done == [2]
