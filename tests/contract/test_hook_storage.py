"""Hooks on both databases."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from decimal import Decimal

import pytest
from sqlalchemy import insert
from sqlalchemy.exc import IntegrityError

from api.db.tables import repricing_bands
from api.ports.hooks import Happening, Hook, HookMessage, Waiting
from tests.contract.quoting import NOON, quote, stored, with_a_book
from tests.contract.shop import listing, opened

PRICES = "listing.prices_changed"


def hook(name="a", **more):
    usual = {
        "id": name,
        "url": f"https://shop.example/{name}",
        "events": (PRICES, "quote.expired"),
        "secrets": ("whsec_new", "whsec_old"),
        "created_at": NOON,
        "since": NOON,
    }
    return Hook(**(usual | more))


def message(name, to="a", **more):
    usual = {
        "id": name,
        "hook": to,
        "event": PRICES,
        "body": '{"a":1}',
        "created_at": NOON,
        "due": NOON,
    }
    return HookMessage(**(usual | more))


def do(storage, name, *arguments, **more):
    return storage.write(lambda unit: getattr(unit.hooks, name)(*arguments, **more))


@pytest.fixture
def kept(any_storage):
    do(any_storage, "add", hook())
    do(any_storage, "add", hook("b"))
    return any_storage


def test_hooks_come_back_as_they_were_in_order(kept):
    assert do(kept, "all") == (hook(), hook("b"))
    assert do(kept, "get", "b") == hook("b")
    assert do(kept, "get", "c") is None
    with pytest.raises(IntegrityError):
        do(kept, "add", hook())


def test_a_hook_is_replaced_at_its_version_only(kept):
    off = hook(enabled=False, why_disabled="gone", secrets=("whsec_x",))
    assert do(kept, "replace", off, expected=1)
    assert not do(kept, "replace", off, expected=1)
    assert do(kept, "get", "a") == replace(off, version=2)


def test_a_hook_goes_with_its_messages_and_no_others(kept):
    do(kept, "add_messages", [message("1"), message("2", "b")])
    assert not do(kept, "remove", "a", expected=2)
    assert do(kept, "remove", "a", expected=1)
    assert not do(kept, "remove", "a", expected=1)
    assert do(kept, "get_message", "1") is None
    assert do(kept, "get_message", "2").hook == "b"


def test_what_there_is_to_tell_comes_back_in_order(any_storage):
    first = Happening(event=PRICES, at=NOON, skus=("a", "ä"))
    second = Happening(event="quote.accepted", at=NOON, quote="q")
    for each in (first, second, replace(first, skus=(), run=7)):
        do(any_storage, "note", each)
    found = do(any_storage, "next_happening")
    assert replace(found, seq=0) == first
    do(any_storage, "reached", found.seq, 12)
    assert do(any_storage, "next_happening").reached == 12
    do(any_storage, "forget_happening", found.seq)
    assert replace(do(any_storage, "next_happening"), seq=0) == second


def test_a_message_is_sent_before_those_after_it(kept):
    sent = [message("1"), message("2"), message("3", "b")]
    do(kept, "add_messages", sent)
    heads = do(kept, "heads")
    assert [replace(each, seq=0) for each in heads] == [sent[0], sent[2]]
    later = replace(
        heads[0], tries=1, due=NOON + timedelta(hours=1), answered=500, reason="x"
    )
    do(kept, "tried", later)
    assert do(kept, "heads")[0] == later
    do(kept, "tried", replace(later, status="delivered"))
    assert [each.id for each in do(kept, "heads")] == ["2", "3"]


def test_what_waits_is_counted_by_hook_with_the_state_of_its_oldest(kept):
    assert do(kept, "waiting") == {}
    done = [message("0", status="delivered"), message("1", status="failed", tries=9)]
    tried = {"tries": 3, "answered": 503, "reason": "http_status"}
    later = NOON + timedelta(hours=2)
    do(kept, "add_messages", [*done, message("2", due=later, **tried), message("3")])
    do(kept, "add_messages", [message("4", "b"), message("5"), message("6", "b")])
    oldest = Waiting(messages=3, next_try_at=later, **tried)
    untried = Waiting(messages=2, next_try_at=NOON)
    assert do(kept, "waiting") == {"a": oldest, "b": untried}
    do(kept, "fail_waiting", "a", "disabled")
    assert do(kept, "waiting") == {"b": untried}
    do(kept, "again", "a", ["2"], now=NOON)
    anew = Waiting(messages=1, next_try_at=NOON)
    assert do(kept, "waiting") == {"a": anew, "b": untried}


def test_what_was_given_up_can_wait_again(kept):
    names = [f"m{n:03}" for n in range(7)]
    do(kept, "add_messages", [message(name) for name in [*names, "other"]])
    do(kept, "tried", replace(do(kept, "get_message", "other"), status="delivered"))
    assert do(kept, "fail_waiting", "a", "disabled") == 7
    assert do(kept, "heads") == ()
    found = do(kept, "failures", "a", limit=5)
    assert [each.id for each in found] == names[:5]
    assert {each.reason for each in found} == {"disabled"}
    later = NOON + timedelta(days=1)
    assert do(kept, "again", "b", names, now=later) == 0
    assert do(kept, "again", "a", [names[3], "none", "other"], now=later) == 1
    [head] = do(kept, "heads")
    assert (head.id, head.due, head.tries) == (names[3], later, 0)
    assert do(kept, "again", "a", None, now=later) == 6


def test_what_is_over_is_forgotten_and_what_waits_is_not(kept):
    states = ("waiting", "delivered", "failed")
    do(kept, "add_messages", [message(state, status=state) for state in states])
    do(kept, "forget", before=NOON)
    assert all(do(kept, "get_message", state) for state in states)
    do(kept, "forget", before=NOON + timedelta(seconds=1))
    there = [state for state in states if do(kept, "get_message", state)]
    assert there == ["waiting"]


def test_one_delivers_at_a_time(any_storage):
    until = NOON + timedelta(minutes=1)

    def lease(holder, now=NOON, until=until):
        return do(any_storage, "lease", holder, now=now, until=until)

    assert lease("one")
    assert not lease("two")
    assert lease("one")
    do(any_storage, "release", "two")
    assert not lease("two")
    assert lease("two", now=until, until=until + timedelta(minutes=1))
    do(any_storage, "release", "two")
    assert lease("one")


def test_how_far_expiry_was_told_is_kept_beside_the_lease(any_storage):
    assert do(any_storage, "expired_until") is None
    do(any_storage, "set_expired_until", NOON)
    do(any_storage, "lease", "one", now=NOON, until=NOON + timedelta(minutes=1))
    assert do(any_storage, "expired_until") == NOON


def test_published_listings_that_a_run_moves_are_found_in_parts(any_storage):
    names = ["a", "b", "c", "hidden", "still"]
    made = [listing(name, published=name != "hidden") for name in names]
    opened(any_storage, *made)
    rows = [
        {"listing": n, "band": n, "moves": name != "still"}
        for n, name in enumerate(names, 1)
    ]

    usual = {"run": 1, "spec": 1, "locked": False}
    usual |= {"old_price": Decimal(1), "new_price": Decimal(2)}
    with any_storage.engine.begin() as connection:
        connection.execute(insert(repricing_bands), [usual | row for row in rows])
    first = do(any_storage, "listings_of", 1, past=0, limit=2)
    assert [sku for _, sku in first] == ["a", "b"]
    rest = do(any_storage, "listings_of", 1, past=first[-1][0], limit=2)
    assert [sku for _, sku in rest] == ["c"]
    assert do(any_storage, "listings_of", 2, past=0, limit=2) == ()


def test_open_quotes_that_ended_within_a_time_are_found(any_storage):
    with_a_book(any_storage)
    made = quote()
    stored(any_storage, made)
    ends, second = made.valid_until, timedelta(seconds=1)

    def expired(after, until):
        return [q.id for q in do(any_storage, "expired", after=after, until=until)]

    assert expired(ends - second, ends) == [made.id]
    assert expired(ends, ends + second) == []
    assert expired(ends - second, ends - second / 2) == []
