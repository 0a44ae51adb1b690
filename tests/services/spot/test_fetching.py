"""Asking feeds: what passes is recorded, what does not leaves a reason."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal

import pytest

from api.ports import Conflict, FeedFailed, NotFound, SpotUnavailable
from api.services import Fetching
from api.services.actor import acting
from pricing.errors import InvalidInput
from tests.services.feeding import ASSAY, MAKER, NOON, RATES, Fetchery, codes, reading

HOUR = timedelta(hours=1)


def test_a_price_that_passes_is_recorded_and_in_force(fetchery):
    result = fetchery.fetch(reading("27.50", NOON - HOUR))
    assert (result.feed, result.outcome, result.entry_id) == ("assay", "accepted", 1)
    assert (result.price, result.currency) == (Decimal("27.50"), "EUR")
    assert (result.as_of, result.from_cache) == (NOON - HOUR, True)
    entry = fetchery.spots.current_entry()
    assert (entry.id, entry.source, entry.status) == (1, "assay", "accepted")
    assert (entry.as_of, entry.recorded_at) == (NOON - HOUR, NOON)
    assert entry.reasons == result.findings
    (line,) = fetchery.log()
    assert (line.outcome, line.entry_id, line.at) == ("accepted", 1, NOON)
    assert line.findings == result.findings


def test_the_feed_is_asked_as_it_is_described(storage, clock):
    fetchery = Fetchery(storage, clock)
    fetchery.set_up(headers={"Accept": "text/x"}, secret_headers=["X-Key"])
    fetchery.feeds.set_secrets("assay", {"X-Key": "hush"})
    fetchery.fetch()
    assert fetchery.source.asked == [
        (ASSAY["url"], {"Accept": "text/x", "X-Key": "hush"}, ("X-Key",))
    ]


def test_a_secret_that_is_not_set_is_missed_before_asking(storage, clock):
    fetchery = Fetchery(storage, clock)
    fetchery.set_up(secret_headers=["X-Key"])
    result = fetchery.fetch()
    assert (result.outcome, codes(result)) == ("failed", ["secret_missing"])
    assert "fineweight feeds secret assay X-Key" in result.findings[0].text
    assert fetchery.source.asked == []


def test_no_secret_is_in_what_is_told(storage, clock):
    fetchery = Fetchery(storage, clock)
    stored = fetchery.set_up(secret_headers=["X-Key"])
    told = [stored, fetchery.feeds.set_secrets("assay", {"X-Key": "hush-hush"})]
    fetchery.source.fail(FeedFailed("unauthorised", "401"))
    told += [fetchery.fetch(), *fetchery.log(), fetchery.snapshots.take()]
    assert "hush-hush" not in repr(told)


def test_a_feed_that_fails_leaves_the_reason_and_changes_nothing(fetchery):
    fetchery.fetch(reading("27.50", NOON - HOUR))
    before = fetchery.storage.revisions()
    fetchery.source.fail(FeedFailed("timeout", "nobody answered in 10 s"))
    result = fetchery.fetch()
    assert (result.outcome, result.entry_id, result.price) == ("failed", None, None)
    assert codes(result) == ["timeout"]
    line, _ = fetchery.log()
    assert line.outcome == "failed"
    assert line.findings[0].text == "nobody answered in 10 s"
    assert fetchery.spots.current().price == Decimal("27.50")
    assert fetchery.storage.revisions() == before


def test_a_price_that_is_refused_leaves_the_reason_and_no_entry(fetchery):
    result = fetchery.fetch(reading("2750"))
    assert (result.outcome, result.entry_id) == ("refused", None)
    assert "outside_band" in codes(result)
    (line,) = fetchery.log()
    assert (line.outcome, line.entry_id) == ("refused", None)
    assert line.findings == result.findings
    assert fetchery.spots.history() == ()


def test_a_jump_is_held_until_a_person_decides(fetchery, clock):
    fetchery.fetch(reading("27.50"))
    clock.advance(hours=24)
    result = fetchery.fetch(reading("31.00", clock.now()))
    assert (result.outcome, result.entry_id) == ("held", 2)
    assert fetchery.spots.current().price == Decimal("27.50")
    (held,) = fetchery.spots.history(status="held")
    assert codes(result) == [finding.code for finding in held.reasons] == ["jump"]
    clock.advance(minutes=5)
    with acting(MAKER):
        accepted = fetchery.spots.accept(held.id)
    assert (accepted.decided_by, accepted.decided_at) == ("maker", clock.now())
    assert fetchery.spots.current().price == Decimal("31.00")


def test_a_rejected_price_stays_out_and_is_not_held_again(fetchery, clock):
    fetchery.fetch(reading("27.50"))
    clock.advance(hours=24)
    glitch = reading("31.00", clock.now())
    assert fetchery.fetch(glitch).outcome == "held"
    waiting = fetchery.fetch(glitch)
    assert (waiting.outcome, codes(waiting)) == ("ignored", ["already_known"])
    assert "accept or reject entry 2" in waiting.findings[0].text
    fetchery.spots.reject(2)
    again = fetchery.fetch(glitch)
    assert again.outcome == "ignored"
    assert "rejected before" in again.findings[0].text
    assert fetchery.spots.current().price == Decimal("27.50")
    assert len(fetchery.spots.history()) == 2


def test_a_corrected_price_of_the_same_moment_is_new(fetchery, clock):
    fetchery.fetch(reading("27.50"))
    clock.advance(hours=24)
    fetchery.fetch(reading("31.00", clock.now()))
    right = fetchery.fetch(reading("27.60", clock.now()))
    assert right.outcome == "accepted"
    assert fetchery.spots.current().price == Decimal("27.60")


def test_the_same_price_again_is_ignored(fetchery):
    assert fetchery.fetch().outcome == "accepted"
    again = fetchery.fetch()
    assert (again.outcome, codes(again)) == ("ignored", ["already_known"])
    assert "nothing to do" in again.findings[0].text
    assert [line.outcome for line in fetchery.log()] == ["ignored", "accepted"]
    assert len(fetchery.spots.history()) == 1


def test_a_feed_is_left_alone_after_three_failures(fetchery, clock):
    fetchery.source.fail(FeedFailed("timeout", "nobody answered"))
    outcomes = [codes(fetchery.fetch()) for _ in range(5)]
    assert outcomes == [["timeout"]] * 3 + [["resting"]] * 2
    assert len(fetchery.source.asked) == 3
    assert len(fetchery.log()) == 3
    clock.advance(minutes=4, seconds=59)
    assert "12:05 UTC" in fetchery.fetch().findings[0].text
    clock.advance(seconds=1)
    assert codes(fetchery.fetch()) == ["timeout"]
    clock.advance(minutes=9)
    assert codes(fetchery.fetch()) == ["resting"]
    clock.advance(minutes=1)
    assert fetchery.fetch(reading()).outcome == "accepted"
    fetchery.source.fail(FeedFailed("timeout", "nobody answered"))
    assert codes(fetchery.fetch()) == ["timeout"]


def test_the_rest_is_known_to_another_process(any_database, open_database, clock):
    ours = Fetchery(open_database(any_database), clock)
    ours.set_up()
    ours.source.fail(FeedFailed("timeout", "nobody answered"))
    for _ in range(3):
        ours.fetch()
    theirs = Fetchery(open_database(any_database), clock)
    assert codes(theirs.fetch(reading())) == ["resting"]
    assert theirs.source.asked == []


def test_all_feeds_that_are_switched_on_are_asked(fetchery):
    fetchery.set_up("bank", RATES)
    fetchery.set_up("away", enabled=False)
    with acting(MAKER):
        results = fetchery.spots.fetch()
    assert [result.feed for result in results] == ["assay", "bank"]
    assert [entry.by for entry in fetchery.spots.history()] == ["maker"]


def test_one_feed_that_fails_does_not_keep_the_others_back(fetchery):
    fetchery.set_up("broken", secret_headers=["X-Key"])
    outcomes = {each.feed: each.outcome for each in fetchery.spots.fetch()}
    assert outcomes == {"assay": "accepted", "broken": "failed"}


def test_without_feeds_nothing_is_asked(storage, clock):
    assert Fetchery(storage, clock).spots.fetch() == ()


def test_a_feed_that_is_not_there_is_not_asked(fetchery):
    for ask in (fetchery.spots.fetch, fetchery.fetching.attempt):
        with pytest.raises(NotFound, match="nowhere"):
            ask("nowhere")


def test_a_feed_that_is_switched_off_is_not_asked(fetchery):
    fetchery.set_up("away", enabled=False)
    with pytest.raises(Conflict, match="switched off"):
        fetchery.spots.fetch("away")
    assert fetchery.source.asked == []


def test_an_attempt_tells_and_records_nothing(fetchery):
    fetchery.set_up("away", enabled=False, second_source="assay")
    before = fetchery.storage.revisions()
    (result,) = fetchery.fetching.attempt("away")
    assert (result.outcome, result.price, result.entry_id) == (
        "accepted",
        Decimal("27.50"),
        None,
    )
    fetchery.source.fail(FeedFailed("timeout", "nobody answered"))
    for _ in range(4):
        (result,) = fetchery.fetching.attempt("assay")
        assert (result.outcome, codes(result)) == ("failed", ["timeout"])
    assert fetchery.storage.revisions() == before
    assert fetchery.log() == fetchery.log("away") == ()
    with pytest.raises(SpotUnavailable):
        fetchery.spots.current()


def test_nothing_is_locked_while_another_machine_answers(fetchery):
    def write_at_once():
        fetchery.storage.write(lambda unit: unit.revisions.bump("keys"), wait=False)

    fetchery.source.meanwhile = write_at_once
    assert fetchery.fetch().outcome == "accepted"
    assert fetchery.storage.revisions().keys == 1


@pytest.mark.parametrize("change", ["changed", "removed"])
def test_an_answer_to_a_feed_that_was_changed_meanwhile_is_not_used(fetchery, change):
    def meddle():
        if change == "changed":
            fetchery.feeds.put("assay", {**ASSAY, "unit": "gram"}, expected=1)
        else:
            fetchery.feeds.remove("assay", expected=1)

    fetchery.source.meanwhile = meddle
    result = fetchery.fetch()
    assert (result.outcome, codes(result)) == ("ignored", ["feed_changed"])
    assert fetchery.spots.history() == ()
    assert fetchery.log()[0].findings == result.findings


def test_a_fault_of_the_program_is_not_taken_for_one_of_the_feed(fetchery):
    fetchery.source.fail(ZeroDivisionError())
    with pytest.raises(ZeroDivisionError):
        fetchery.fetch()
    assert fetchery.log() == ()


def test_a_reader_that_fails_is_a_feed_that_failed(fetchery):
    def unreadable(feed, body, content_type):
        raise FeedFailed("not_json", "the answer is no JSON")

    fetching = Fetching(
        fetchery.snapshots,
        fetchery.clock,
        feeds=fetchery.feeds,
        fetcher=fetchery.source,
        reader=unreadable,
    )
    (result,) = fetching.fetch("assay")
    assert (result.outcome, codes(result)) == ("failed", ["not_json"])


def test_an_older_answer_that_serves_hides_no_outage(fetchery):
    fetchery.source.stale_since = FeedFailed("timeout", "The feed took too long.")
    result = fetchery.fetch(reading())
    assert (result.outcome, codes(result)) == ("failed", ["timeout"])
    assert fetchery.spots.history() == ()


def test_an_answer_is_read_before_it_may_be_kept(fetchery, monkeypatch):
    checked = []

    def read(*given):
        checked.append(given)
        return fetchery.source.says

    monkeypatch.setattr(fetchery.fetching, "_reader", read)
    assert fetchery.fetch().outcome == "accepted"
    assert len(checked) == 2


def test_a_feed_is_tried_as_it_is_described(fetchery):
    before = fetchery.storage.revisions()
    fetchery.source.say(reading("884.00"))
    draft = {**ASSAY, "url": "https://other.example/silver"}
    [result] = fetchery.fetching.attempt_as("new", draft)
    assert (result.feed, result.outcome, result.price) == ("new", "accepted", 884)
    assert fetchery.source.asked[-1][0] == draft["url"]
    assert fetchery.storage.revisions() == before
    with pytest.raises(InvalidInput, match="url"):
        fetchery.fetching.attempt_as("new", {**ASSAY, "url": "silver"})


@pytest.mark.parametrize(
    ("url", "outcome"),
    [
        ("https://feeds.example/other", "accepted"),
        ("https://elsewhere.example/", "failed"),
    ],
)
def test_a_secret_is_tried_only_with_its_own_server(fetchery, url, outcome):
    secret = {**ASSAY, "secret_headers": ["X-Key"]}
    fetchery.feeds.put("assay", secret, expected=1)
    fetchery.feeds.set_secrets("assay", {"X-Key": "abc"})
    [result] = fetchery.fetching.attempt_as("assay", {**secret, "url": url})
    assert result.outcome == outcome
    assert [asked[1] for asked in fetchery.source.asked] == (
        [{"X-Key": "abc"}] if outcome == "accepted" else []
    )
