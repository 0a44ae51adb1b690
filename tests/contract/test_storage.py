"""What every storage does, whichever database is under it."""

from __future__ import annotations

from contextlib import suppress
from dataclasses import replace
from datetime import UTC, datetime, timedelta, timezone
from decimal import Decimal

import pytest
from sqlalchemy.exc import InternalError

from api.ports import (
    BookVersion,
    CoinRow,
    Conflict,
    KeyRecord,
    Revisions,
    SpotEntry,
    StoredBook,
    StoredKey,
)

NOON = datetime(2026, 12, 1, 12, 0, 0, 123456, tzinfo=UTC)
HOUR = timedelta(hours=1)
PARTS = Revisions._fields


NONE = Revisions(*(0 for _ in PARTS))


def spot(price="27.50", **more):
    given = {"metal": "XAG", "currency": "EUR", "as_of": NOON, "source": "manual"}
    return SpotEntry(price=Decimal(price), **given | {"recorded_at": NOON} | more)


def book(version, document="{}"):
    about = BookVersion(version=version, created_at=NOON, by="maker", note="why")
    return StoredBook(about=about, document=document)


def coin(key="my_coin", revision=1, document="{}"):
    return CoinRow(key=key, document=document, revision=revision, changed_at=NOON)


def key(name="0123456789abcdef", **more):
    given = {"scope": "bench", "label": "Bench", "created_at": NOON}
    return StoredKey(record=KeyRecord(id=name, **given | more), digest=bytes(range(32)))


def test_a_new_storage_is_empty_and_at_revision_nought(any_storage):
    assert any_storage.revisions() == NONE
    assert any_storage.read(lambda unit: unit.revisions.all()) == NONE
    assert any_storage.read(lambda unit: unit.books.newest()) is None
    assert any_storage.read(lambda unit: unit.books.version(1)) is None
    assert any_storage.read(lambda unit: unit.coins.all()) == ()
    assert any_storage.read(lambda unit: unit.coins.get("none")) is None
    assert any_storage.read(lambda unit: unit.keys.all()) == ()


@pytest.mark.parametrize("part", PARTS)
def test_counting_a_change_raises_that_revision_only(any_storage, part):
    assert any_storage.write(lambda unit: unit.revisions.bump(part)) == 1
    assert any_storage.write(lambda unit: unit.revisions.bump(part, expected=1)) == 2
    assert any_storage.revisions()._asdict() == {p: 2 * (p == part) for p in PARTS}


@pytest.mark.parametrize("expected", [1, 7, -1, 2**31, 10**30])
def test_counting_from_another_revision_changes_nothing(any_storage, expected):
    counted = any_storage.write(
        lambda unit: unit.revisions.bump("coins", expected=expected)
    )
    assert counted is None
    assert any_storage.revisions().coins == 0


@pytest.mark.parametrize(
    "price",
    ["999999999.999999999", "0.000000001", "27.50", "999999999.999999", "0.1"],
)
def test_prices_come_back_exactly(any_storage, price):
    stored = any_storage.write(lambda unit: unit.spots.add(spot(price)))
    (found,) = any_storage.read(
        lambda unit: unit.spots.history("XAG", limit=9, before=None)
    )
    assert found == stored
    assert found.price == Decimal(price)


def test_a_price_that_would_be_rounded_is_refused(any_storage):
    with pytest.raises(Exception, match="does not fit 9 decimal places"):
        any_storage.write(lambda unit: unit.spots.add(spot("0.0000000001")))


def test_times_come_back_as_the_same_instant_in_utc(any_storage):
    vienna = NOON.astimezone(timezone(HOUR))
    entry = spot(as_of=vienna, expires_at=vienna + HOUR)
    any_storage.write(lambda unit: unit.spots.add(entry))
    (found,) = any_storage.read(lambda unit: unit.spots.candidates(NOON))
    assert (found.as_of, found.expires_at) == (NOON, NOON + HOUR)
    assert found.as_of.tzinfo is UTC


def test_a_time_without_an_offset_is_refused(any_storage):
    with pytest.raises(Exception, match="no offset from UTC"):
        any_storage.write(
            lambda unit: unit.spots.add(spot(as_of=NOON.replace(tzinfo=None)))
        )


def test_text_of_any_script_comes_back(any_storage):
    note = "Gießerei — ½ 銀 💍 'x' \"y\" \\ % :z"
    any_storage.write(lambda unit: unit.spots.add(spot(note=note)))
    (found,) = any_storage.read(lambda unit: unit.spots.candidates(NOON))
    assert found.note == note


def test_book_versions_are_listed_newest_first(any_storage):
    for number in (1, 2, 3):
        any_storage.write(
            lambda unit, n=number: unit.books.add(book(n, f'{{"n":{n}}}'))
        )
    assert any_storage.read(lambda unit: unit.books.newest()) == book(3, '{"n":3}')
    assert any_storage.read(lambda unit: unit.books.version(2)) == book(2, '{"n":2}')
    versions = any_storage.read(lambda unit: unit.books.versions())
    assert versions == tuple(book(n).about for n in (3, 2, 1))


def test_a_coin_is_found_changed_and_removed(any_storage):
    any_storage.write(lambda unit: unit.coins.add(coin()))
    changed = coin(revision=2, document='{"a":1}')
    assert any_storage.write(lambda unit: unit.coins.replace(changed, expected=1))
    assert any_storage.read(lambda unit: unit.coins.get("my_coin")) == changed
    assert any_storage.write(lambda unit: unit.coins.remove("my_coin", expected=2))
    assert any_storage.read(lambda unit: unit.coins.all()) == ()


@pytest.mark.parametrize(("name", "expected"), [("other", 1), ("my_coin", 2)])
def test_a_coin_that_is_not_there_or_moved_on_is_left_alone(
    any_storage, name, expected
):
    any_storage.write(lambda unit: unit.coins.add(coin()))
    row = coin(name, revision=9)
    assert not any_storage.write(
        lambda unit: unit.coins.replace(row, expected=expected)
    )
    assert not any_storage.write(
        lambda unit: unit.coins.remove(name, expected=expected)
    )
    assert any_storage.read(lambda unit: unit.coins.all()) == (coin(),)


def test_a_second_coin_of_one_key_is_a_conflict_and_leaves_nothing(any_storage):
    any_storage.write(lambda unit: unit.coins.add(coin()))

    def twice(unit):
        unit.coins.add(coin("another"))
        unit.coins.add(coin())

    with pytest.raises(Conflict, match="my_coin"):
        any_storage.write(twice)
    assert any_storage.read(lambda unit: unit.coins.all()) == (coin(),)


def test_a_key_is_kept_with_its_digest(any_storage):
    stored = key(last_used_at=NOON, revoked_at=NOON + HOUR)
    any_storage.write(lambda unit: unit.keys.add(stored))
    assert any_storage.read(lambda unit: unit.keys.all()) == (stored,)


def test_a_key_is_revoked_once(any_storage):
    any_storage.write(lambda unit: unit.keys.add(key()))
    name = key().record.id
    assert any_storage.write(lambda unit: unit.keys.revoke(name, when=NOON))
    assert not any_storage.write(lambda unit: unit.keys.revoke(name, when=NOON + HOUR))
    assert not any_storage.write(lambda unit: unit.keys.revoke("other", when=NOON))
    (found,) = any_storage.read(lambda unit: unit.keys.all())
    assert found.record.revoked_at == NOON


def test_a_use_of_a_key_never_goes_back_in_time(any_storage):
    any_storage.write(lambda unit: unit.keys.add(key()))
    name = key().record.id
    for moment in (NOON, NOON + HOUR, NOON):
        any_storage.write(lambda unit, m=moment: unit.keys.touch(name, when=m))
    (found,) = any_storage.read(lambda unit: unit.keys.all())
    assert found.record.last_used_at == NOON + HOUR


def test_an_unknown_scope_is_not_stored(any_storage):
    stranger = replace(key(), record=replace(key().record, scope="root"))
    with pytest.raises(Exception, match="scope_known"):
        any_storage.write(lambda unit: unit.keys.add(stranger))


def test_a_use_case_that_fails_leaves_nothing(any_storage):
    def fail(unit):
        unit.revisions.bump("coins")
        unit.coins.add(coin())
        raise RuntimeError("half way")

    with pytest.raises(RuntimeError, match="half way"):
        any_storage.write(fail)
    assert any_storage.read(lambda unit: unit.coins.all()) == ()
    assert any_storage.revisions().coins == 0


def test_a_reading_use_case_cannot_leave_anything(any_storage):
    with suppress(InternalError):  # PostgreSQL says so, SQLite only forgets it
        any_storage.read(lambda unit: unit.revisions.bump("coins"))
    assert any_storage.revisions().coins == 0


def test_a_reader_sees_one_state_while_another_writes(any_storage):
    def look_twice(unit):
        before = unit.revisions.all()
        any_storage.write(lambda other: other.revisions.bump("keys"))
        return before, unit.revisions.all()

    before, after = any_storage.read(look_twice)
    assert before == after
    assert any_storage.revisions().keys == 1


def test_a_ready_storage_says_so(any_storage):
    assert any_storage.readiness().ready
