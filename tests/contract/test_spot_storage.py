"""What every storage does with prices: kept exactly, chosen from, decided once."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from decimal import Decimal

import pytest

from api.ports import SPOT_STATUSES, Decision, Series, SpotEntry
from pricing.spot_guard import Finding

NOON = datetime(2026, 12, 1, 12, 0, 0, 123456, tzinfo=UTC)
HOUR = timedelta(hours=1)


def spot(price="27.50", **more):
    given = {"metal": "XAG", "currency": "EUR", "as_of": NOON, "source": "manual"}
    return SpotEntry(price=Decimal(price), **given | {"recorded_at": NOON} | more)


def add_all(storage, *entries):
    for entry in entries:
        storage.write(lambda unit, e=entry: unit.spots.add(e))


def test_only_what_can_be_in_force_is_a_candidate(any_storage):
    add_all(
        any_storage,
        spot("1"),
        spot("2", metal="EUR", currency="USD"),
        spot("3", expires_at=NOON - HOUR),
        spot("4"),
        spot("5", expires_at=NOON + HOUR),
        spot("6", expires_at=NOON),
        spot("7", as_of=NOON + HOUR, source="feed"),
        spot("8", as_of=NOON + 2 * HOUR, source="feed", status="held"),
        spot("9", as_of=NOON + 2 * HOUR, source="feed", status="rejected"),
        spot("10", as_of=NOON - HOUR, source="feed"),
        spot("11", as_of=NOON - HOUR, currency="USD", source="feed"),
    )
    found = any_storage.read(lambda unit: unit.spots.candidates(NOON))
    assert [int(entry.price) for entry in found] == [11, 7, 5, 4, 2]


def test_an_entry_comes_back_whole(any_storage):
    reasons = (
        Finding(code="jump", text="far – “off”", weight="hold"),
        Finding(code="frozen", text="calm", weight="warn"),
    )
    entry = spot(
        note="why",
        by="maker",
        status="rejected",
        recorded_at=NOON + HOUR,
        reasons=reasons,
        decided_by="boss",
        decided_at=NOON + 2 * HOUR,
    )
    stored = any_storage.write(lambda unit: unit.spots.add(entry))
    assert any_storage.read(lambda unit: unit.spots.get(stored.id)) == stored
    assert replace(stored, id=0) == entry
    assert any_storage.read(lambda unit: unit.spots.get(99)) is None


def test_what_says_nothing_else_was_recorded_as_it_was_the_price(any_storage):
    add_all(any_storage, spot(recorded_at=None))
    assert any_storage.read(lambda unit: unit.spots.get(1)).recorded_at == NOON


def test_a_held_entry_is_decided_once(any_storage):
    add_all(any_storage, spot("1", status="held"), spot("2"))
    yes = Decision(status="accepted", by="boss", at=NOON + HOUR)
    no = Decision(status="rejected", by="other", at=NOON + 2 * HOUR)
    decide = [(1, yes), (1, no), (2, no), (3, yes)]
    done = [
        any_storage.write(lambda unit, i=i, d=d: unit.spots.decide(i, d))
        for i, d in decide
    ]
    assert done == [True, False, False, False]
    first = any_storage.read(lambda unit: unit.spots.get(1))
    assert (first.status, first.decided_by, first.decided_at) == (
        "accepted",
        "boss",
        NOON + HOUR,
    )
    assert any_storage.read(lambda unit: unit.spots.get(2)) == spot("2", id=2)


def test_an_unknown_status_is_not_stored(any_storage):
    with pytest.raises(Exception, match="status_known"):
        any_storage.write(lambda unit: unit.spots.add(spot(status="perhaps")))


def test_the_newest_of_a_series_is_by_its_own_time(any_storage):
    add_all(
        any_storage,
        spot("1", source="a", as_of=NOON + HOUR),
        spot("2", source="a"),
        spot("3", source="b", as_of=NOON + 2 * HOUR),
        spot("4", source="a", as_of=NOON + 3 * HOUR, status="held"),
        spot("5", source="a", as_of=NOON + 4 * HOUR, currency="USD"),
    )

    def newest(*series):
        found = any_storage.read(lambda unit: unit.spots.newest(Series(*series)))
        return found and int(found.price)

    assert newest("XAG", "EUR", "a") == 1
    assert newest("XAG", "EUR") == 3
    assert newest("XAG", "USD") == 5
    assert newest("XAG", "GBP") is None
    assert newest("EUR", "USD") is None


def test_what_was_recorded_is_known_whatever_became_of_it(any_storage):
    entries = [
        spot("1", source="a", status=status, as_of=NOON + i * HOUR)
        for i, status in enumerate(SPOT_STATUSES)
    ]
    add_all(any_storage, *entries)

    def known(price, as_of, source="a"):
        series = Series("XAG", "EUR", source)
        found = any_storage.read(
            lambda unit: unit.spots.recorded(series, as_of=as_of, price=Decimal(price))
        )
        return found and found.status

    assert [known("1.0", NOON + i * HOUR) for i in range(4)] == [*SPOT_STATUSES, None]
    assert known("2", NOON) is None
    assert known("1", NOON, source="b") is None


def test_it_is_known_since_when_a_price_has_not_moved(any_storage):
    series = Series("XAG", "EUR", "a")

    def since(price):
        return any_storage.read(
            lambda unit: unit.spots.unmoved_since(series, Decimal(price))
        )

    assert since("1") is None
    prices = ["1", "2", "1", "1"]
    add_all(
        any_storage,
        *(spot(p, source="a", as_of=NOON + i * HOUR) for i, p in enumerate(prices)),
        spot("9", source="a", as_of=NOON + 9 * HOUR, status="held"),
        spot("9", source="b", as_of=NOON + 9 * HOUR),
    )
    assert since("1") == NOON + 2 * HOUR
    assert since("2") is None
    assert since("3") is None


def test_a_price_that_never_moved_is_unmoved_since_the_first(any_storage):
    add_all(any_storage, *(spot(as_of=NOON + i * HOUR) for i in range(3)))
    series = Series("XAG", "EUR", "manual")
    found = any_storage.read(
        lambda unit: unit.spots.unmoved_since(series, Decimal("27.5"))
    )
    assert found == NOON


def test_the_close_of_a_day_is_its_last_accepted_price(any_storage):
    midnight = datetime(2026, 12, 2, tzinfo=UTC)
    tick = timedelta(microseconds=1)
    add_all(
        any_storage,
        spot("1", as_of=NOON),
        spot("2", as_of=midnight - tick),
        spot("3", as_of=midnight),
        spot("4", as_of=midnight),
        spot("5", as_of=midnight + HOUR, status="held"),
        spot("6", as_of=NOON, currency="USD"),
        spot("7", as_of=midnight + HOUR, metal="EUR", currency="USD"),
        spot("8", as_of=NOON - 48 * HOUR),
    )
    since = NOON - 24 * HOUR
    found = any_storage.read(lambda unit: unit.spots.closes("XAG", since=since))
    assert [(c.day.day, c.currency, int(c.price)) for c in found] == [
        (1, "USD", 6),
        (1, "EUR", 2),
        (2, "EUR", 4),
    ]


def test_history_is_paged_from_the_newest(any_storage):
    for price in ("1", "2", "3", "4"):
        any_storage.write(lambda unit, p=price: unit.spots.add(spot(p)))
    any_storage.write(lambda unit: unit.spots.add(spot("5", metal="XAU")))

    def page(before, limit=2):
        return any_storage.read(
            lambda unit: unit.spots.history("XAG", limit=limit, before=before)
        )

    first = page(None)
    second = page(first[-1].id)
    assert [int(each.price) for each in (*first, *second)] == [4, 3, 2, 1]
    assert page(second[-1].id) == ()
    assert page(2**63 - 1, limit=1) == first[:1]


@pytest.mark.parametrize("status", SPOT_STATUSES)
def test_history_can_be_of_one_status(any_storage, status):
    add_all(any_storage, *(spot(status=each) for each in SPOT_STATUSES))
    (found,) = any_storage.read(
        lambda unit: unit.spots.history("XAG", limit=9, before=None, status=status)
    )
    assert found.status == status
