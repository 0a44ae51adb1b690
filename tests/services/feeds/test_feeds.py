"""Feeds: described, changed by whom has seen them, secrets apart."""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from api.ports import FeedFailed, NotFound, PreconditionFailed
from pricing.errors import InvalidInput
from pricing.market_days import MarketCalendar
from tests.services.feeding import ASSAY, RATES, Fetchery

SECRET = {**ASSAY, "secret_headers": ["X-Key"]}


@pytest.fixture
def feeds(storage, clock):
    return Fetchery(storage, clock).feeds


def test_a_feed_is_set_up_and_found_again(feeds, clock):
    stored = feeds.put("assay", ASSAY, expected=None)
    assert (stored.feed.key, stored.feed.currency) == ("assay", "EUR")
    assert (stored.revision, stored.changed_at) == (1, clock.now())
    assert stored.document["url"] == ASSAY["url"]
    assert stored.secrets_set == ()
    assert feeds.get("assay") == stored
    assert feeds.list() == (stored,)


def test_what_is_stored_is_read_the_same_again(feeds):
    document = ASSAY | {
        "closed_dates": ["2026-08-31"],
        "max_age_hours": "30.5",
        "limits": {"jump": "0.1"},
    }
    stored = feeds.put("assay", document, expected=None)
    again = feeds.put("assay", stored.document, expected=1)
    assert again.feed == stored.feed
    assert again.feed.closed_dates == (date(2026, 8, 31),)


def test_feeds_are_listed_by_key(feeds):
    for key in ("b", "c", "a"):
        feeds.put(key, ASSAY, expected=None)
    assert [stored.feed.key for stored in feeds.list()] == ["a", "b", "c"]
    assert list(feeds.known()) == ["a", "b", "c"]


def test_a_feed_is_changed_from_the_revision_it_has(feeds):
    feeds.put("assay", ASSAY, expected=None)
    feeds.put("other", ASSAY, expected=None)
    changed = feeds.put("assay", {**ASSAY, "unit": "gram"}, expected=1)
    assert (changed.revision, changed.feed.unit) == (3, "gram")
    assert feeds.get("assay") == changed


@pytest.mark.parametrize(
    ("expected", "current", "said"),
    [(None, 1, "a new one was expected"), (7, 1, "revision 7 was expected")],
)
def test_a_feed_somebody_else_changed_is_left_alone(feeds, expected, current, said):
    stored = feeds.put("assay", ASSAY, expected=None)
    for change in (
        lambda: feeds.put("assay", {**ASSAY, "unit": "gram"}, expected=expected),
        lambda: feeds.remove("assay", expected=expected),
    ):
        with pytest.raises(PreconditionFailed, match=said) as refused:
            change()
        assert refused.value.current == current
    assert feeds.get("assay") == stored


def test_a_feed_that_is_expected_and_not_there_is_not_made(feeds):
    with pytest.raises(PreconditionFailed, match="is not there") as refused:
        feeds.put("assay", ASSAY, expected=1)
    assert refused.value.current is None
    assert feeds.list() == ()


def test_a_feed_set_up_again_never_has_an_old_revision(feeds):
    feeds.put("assay", ASSAY, expected=None)
    feeds.remove("assay", expected=1)
    assert feeds.list() == ()
    assert feeds.put("assay", ASSAY, expected=None).revision == 3


@pytest.mark.parametrize(
    "key", ["manual", "given", "", "1a", "A", "a-b", "x" * 41, "a/b", "ä", "a\n"]
)
def test_a_name_that_cannot_be_a_source_is_refused(feeds, key):
    with pytest.raises(InvalidInput, match="cannot name a feed") as refused:
        feeds.put(key, ASSAY, expected=None)
    assert refused.value.path == ("key",)


def test_a_document_with_faults_changes_nothing(feeds):
    with pytest.raises(InvalidInput) as refused:
        feeds.put("assay", {"title": "x"}, expected=None)
    assert len(refused.value.faults) > 1
    assert feeds.list() == ()


def test_a_feed_that_is_not_there_is_not_found(feeds):
    for ask in (
        lambda: feeds.get("nowhere"),
        lambda: feeds.remove("nowhere", expected=1),
        lambda: feeds.set_secrets("nowhere", {}),
        lambda: feeds.fetches("nowhere"),
    ):
        with pytest.raises(NotFound, match="nowhere"):
            ask()


def test_of_secrets_only_the_names_are_told(feeds):
    feeds.put("assay", SECRET, expected=None)
    stored = feeds.set_secrets("assay", {"X-Key": "hush"})
    assert stored.secrets_set == ("X-Key",)
    assert "hush" not in repr((stored, feeds.list(), feeds.get("assay")))
    assert feeds.set_secrets("assay", {}).secrets_set == ()


def test_a_secret_the_feed_does_not_name_is_refused_and_the_others_stay(feeds):
    feeds.put("assay", SECRET, expected=None)
    feeds.set_secrets("assay", {"X-Key": "hush"})
    with pytest.raises(InvalidInput, match="names no such secret header"):
        feeds.set_secrets("assay", {"X-Other": "x"})
    assert feeds.get("assay").secrets_set == ("X-Key",)


def test_secrets_stay_through_a_change_that_still_means_them(feeds):
    feeds.put("assay", SECRET, expected=None)
    feeds.set_secrets("assay", {"X-Key": "hush"})
    same = feeds.put("assay", {**SECRET, "unit": "gram"}, expected=1)
    assert same.secrets_set == ("X-Key",)
    moved = {**SECRET, "url": "https://elsewhere.example/silver"}
    assert feeds.put("assay", moved, expected=2).secrets_set == ()


def test_what_is_known_is_as_new_as_the_storage(storage, clock):
    here, there = Fetchery(storage, clock), Fetchery(storage, clock)
    assert here.feeds.known() == {}
    there.set_up()
    known = here.feeds.known()
    assert list(known) == ["assay"]
    assert here.feeds.known() is known
    there.feeds.remove("assay", expected=1)
    assert here.feeds.known() == {}


def test_the_market_days_of_a_source_are_its_feeds(feeds):
    closed = ["2026-08-31"]
    feeds.put("assay", {**ASSAY, "closed_dates": closed}, expected=None)
    zone = {"path": "/at", "zone": "America/New_York"}
    feeds.put("far", {**ASSAY, "time": zone}, expected=None)
    feeds.put("bank", {**RATES, "closed_dates": closed}, expected=None)
    monday = frozenset({date(2026, 8, 31)})
    assert feeds.calendar("assay") == MarketCalendar(closed=monday)
    assert feeds.calendar("bank") == MarketCalendar(closed=monday)
    assert feeds.calendar("far") == MarketCalendar(zone="America/New_York")
    assert feeds.calendar("manual") == MarketCalendar()


def test_the_last_fetches_are_told_newest_first(fetchery, clock):
    for number in range(4):
        fetchery.source.fail(FeedFailed("timeout", f"try {number}"))
        fetchery.spots.fetch("assay")
        clock.advance(hours=2)
    lines = fetchery.feeds.fetches("assay", limit=2)
    assert [line.findings[0].text for line in lines] == ["try 3", "try 2"]
    assert lines[0].at - lines[1].at == timedelta(hours=2)
    fetchery.feeds.remove("assay", expected=1)
    assert len(fetchery.feeds.fetches("assay")) == 4


def test_a_feed_that_was_never_asked_has_no_fetches(fetchery):
    assert fetchery.feeds.fetches("assay") == ()


@pytest.mark.parametrize("limit", [0, -1, 101])
def test_a_page_of_fetches_has_a_size(fetchery, limit):
    with pytest.raises(InvalidInput) as refused:
        fetchery.feeds.fetches("assay", limit=limit)
    assert refused.value.path == ("limit",)


def test_a_secret_can_stay_while_another_is_set(feeds, storage):
    two = {**ASSAY, "secret_headers": ["X-Key", "X-Pass"]}
    feeds.put("assay", two, expected=None)
    feeds.set_secrets("assay", {"X-Key": "old"})
    stored = feeds.set_secrets("assay", {"X-Pass": "new"}, keep=["X-Key", "X-Gone"])
    assert stored.secrets_set == ("X-Key", "X-Pass")
    kept = storage.read(lambda unit: unit.feeds.secrets("assay"))
    assert kept == {"X-Key": "old", "X-Pass": "new"}
