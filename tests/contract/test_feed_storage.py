"""What every storage does with feeds, their secrets and the log of fetches."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from decimal import Decimal

import pytest

from api.ports import (
    FETCH_OUTCOMES,
    Conflict,
    FeedRow,
    FetchRecord,
    SpotEntry,
)
from pricing.spot_guard import Finding

NOON = datetime(2026, 12, 1, 12, tzinfo=UTC)


def feed(key="assay", revision=1, document="{}"):
    return FeedRow(key=key, document=document, revision=revision, changed_at=NOON)


def fetch(outcome="failed", feed="assay", **more):
    return FetchRecord(feed=feed, outcome=outcome, **{"at": NOON} | more)


@pytest.fixture
def with_feed(any_storage):
    any_storage.write(lambda unit: unit.feeds.add(feed()))
    return any_storage


def test_a_feed_is_found_changed_and_removed(with_feed):
    changed = feed(revision=2, document='{"a":1}')
    assert with_feed.write(lambda unit: unit.feeds.replace(changed, expected=1))
    assert with_feed.read(lambda unit: unit.feeds.get("assay")) == changed
    assert with_feed.write(lambda unit: unit.feeds.remove("assay", expected=2))
    assert with_feed.read(lambda unit: unit.feeds.all()) == ()
    assert with_feed.read(lambda unit: unit.feeds.get("assay")) is None


def test_feeds_are_listed_by_key_whatever_the_databases_alphabet(any_storage):
    keys = ["b", "a_1", "a1", "ab", "a"]
    for key in keys:
        any_storage.write(lambda unit, k=key: unit.feeds.add(feed(k)))
    found = any_storage.read(lambda unit: unit.feeds.all())
    assert [row.key for row in found] == sorted(keys)


@pytest.mark.parametrize(("name", "expected"), [("other", 1), ("assay", 2)])
def test_a_feed_that_is_not_there_or_moved_on_is_left_alone(with_feed, name, expected):
    with_feed.write(lambda unit: unit.feeds.set_secrets("assay", {"X-Key": "s"}))
    row = feed(name, revision=9)
    assert not with_feed.write(lambda unit: unit.feeds.replace(row, expected=expected))
    assert not with_feed.write(lambda unit: unit.feeds.remove(name, expected=expected))
    assert with_feed.read(lambda unit: unit.feeds.all()) == (feed(),)
    assert with_feed.read(lambda unit: unit.feeds.secrets("assay")) == {"X-Key": "s"}


def test_a_second_feed_of_one_key_is_a_conflict(with_feed):
    with pytest.raises(Conflict, match="assay"):
        with_feed.write(lambda unit: unit.feeds.add(feed(document="[]")))
    assert with_feed.read(lambda unit: unit.feeds.all()) == (feed(),)


def test_secrets_are_replaced_whole(with_feed):
    seen = []
    for secrets in ({"B": "2", "A": "1"}, {"A": "3"}, {}):
        with_feed.write(lambda unit, s=secrets: unit.feeds.set_secrets("assay", s))
        seen.append(with_feed.read(lambda unit: unit.feeds.secrets("assay")))
    assert seen == [{"A": "1", "B": "2"}, {"A": "3"}, {}]


def test_secrets_go_with_their_feed(with_feed):
    with_feed.write(lambda unit: unit.feeds.set_secrets("assay", {"A": "1"}))
    with_feed.write(lambda unit: unit.feeds.remove("assay", expected=1))
    with_feed.write(lambda unit: unit.feeds.add(feed(revision=3)))
    assert with_feed.read(lambda unit: unit.feeds.secrets("assay")) == {}


def test_secrets_of_no_feed_are_not_stored(any_storage):
    with pytest.raises(Exception, match=r"(?i)foreign key"):
        any_storage.write(lambda unit: unit.feeds.set_secrets("none", {"A": "1"}))


def test_fetches_come_back_whole_and_newest_first(with_feed):
    entry = SpotEntry(
        metal="XAG", price=Decimal(27), currency="EUR", as_of=NOON, source="assay"
    )
    stored = with_feed.write(lambda unit: unit.spots.add(entry))
    finding = Finding(code="timeout", text="nobody – answered", weight="refuse")
    records = [
        fetch("failed", findings=(finding,), duration_ms=20_000),
        fetch("accepted", entry_id=stored.id, at=NOON + timedelta(hours=1)),
        fetch("ignored", feed="other"),
        fetch("held"),
    ]
    kept = [
        with_feed.write(lambda unit, r=record: unit.fetches.add(r))
        for record in records
    ]
    assert [record.id for record in kept] == sorted(record.id for record in kept)
    found = with_feed.read(lambda unit: unit.fetches.last("assay", limit=9))
    assert found == (kept[3], kept[1], kept[0])
    assert with_feed.read(lambda unit: unit.fetches.last("assay", limit=1)) == found[:1]
    assert with_feed.read(lambda unit: unit.fetches.last("none", limit=9)) == ()


@pytest.mark.parametrize("outcome", FETCH_OUTCOMES)
def test_every_outcome_can_be_stored(any_storage, outcome):
    any_storage.write(lambda unit: unit.fetches.add(fetch(outcome)))
    (found,) = any_storage.read(lambda unit: unit.fetches.last("assay", limit=9))
    assert found.outcome == outcome


def test_an_unknown_outcome_is_not_stored(any_storage):
    with pytest.raises(Exception, match="outcome_known"):
        any_storage.write(lambda unit: unit.fetches.add(fetch("perhaps")))


def test_what_was_fetched_stays_when_the_feed_goes(with_feed):
    kept = with_feed.write(lambda unit: unit.fetches.add(fetch()))
    with_feed.write(lambda unit: unit.feeds.remove("assay", expected=1))
    assert with_feed.read(lambda unit: unit.fetches.last("assay", limit=9)) == (kept,)
