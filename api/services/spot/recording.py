"""What a feed answered, turned into entries, results and a line of the log."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from api.ports import (
    Feed,
    FetchOutcome,
    FetchRecord,
    FetchResult,
    SpotEntry,
    SpotStatus,
)
from api.services.actor import actor
from api.services.audit import note_price
from api.services.spot.judging import Bench
from pricing.spot_guard import Finding, Reading, Verdict

_KEPT: Mapping[str, SpotStatus] = {"accepted": "accepted", "held": "held"}
"""Outcomes that make an entry, and the status it begins with."""
_GRAVEST_FIRST: tuple[FetchOutcome, ...] = (
    "failed",
    "refused",
    "held",
    "accepted",
    "ignored",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """What came of asking a feed, before anything is made of it.

    Attributes:
        revision: of the feed as it was asked [count].
        readings: what it said; none where it failed.
        failure: why there is nothing to read, or None.
        duration_ms: time the asking took [ms].
    """

    feed: Feed
    revision: int
    readings: tuple[Reading, ...] = ()
    failure: Finding | None = None
    from_cache: bool = False
    duration_ms: int = 0

    def without_price(self, outcome: FetchOutcome, finding: Finding) -> FetchResult:
        """The result where no price can be told."""
        return FetchResult(
            feed=self.feed.key,
            outcome=outcome,
            findings=(finding,),
            from_cache=self.from_cache,
            duration_ms=self.duration_ms,
        )


def tried(bench: Bench, answer: Answer) -> tuple[FetchResult, ...]:
    """What would become of the answer; nothing is recorded."""
    if answer.failure is not None:
        return (answer.without_price("failed", answer.failure),)
    judged = (bench.judged(given) for given in answer.readings)
    return tuple(_result(answer, *each) for each in judged)


def record(bench: Bench, answer: Answer) -> tuple[FetchResult, ...]:
    """What becomes of the answer, recorded in the transaction of ``bench``."""
    results = _recorded(bench, answer)
    if any(each.outcome == "accepted" for each in results):
        bench.unit.revisions.bump("spot_prices")
    bench.unit.fetches.add(_line(bench, results, answer.duration_ms))
    return results


def _recorded(bench: Bench, answer: Answer) -> tuple[FetchResult, ...]:
    row = bench.unit.feeds.get(answer.feed.key)
    if row is None or row.revision != answer.revision:
        return (answer.without_price("ignored", _CHANGED),)
    if answer.failure is not None:
        return tried(bench, answer)
    return tuple(_one(bench, answer, given) for given in answer.readings)


def _one(bench: Bench, answer: Answer, given: Reading) -> FetchResult:
    reading, verdict = bench.judged(given)
    result = _result(answer, reading, verdict)
    status = _KEPT.get(verdict.outcome)
    if status is not None:
        entry = SpotEntry(
            metal=bench.feed.metal,
            price=reading.price,
            currency=reading.currency,
            as_of=reading.as_of,
            source=bench.feed.key,
            by=actor().by,
            status=status,
            recorded_at=bench.now,
            reasons=verdict.findings,
        )
        added = bench.unit.spots.add(entry)
        note_price(bench.unit, bench.now, "spot.fetched", added)
        return replace(result, entry_id=added.id)
    return result


def _result(answer: Answer, reading: Reading, verdict: Verdict) -> FetchResult:
    return FetchResult(
        feed=answer.feed.key,
        outcome=verdict.outcome,
        findings=verdict.findings,
        price=reading.price,
        currency=reading.currency,
        as_of=reading.as_of,
        from_cache=answer.from_cache,
        duration_ms=answer.duration_ms,
    )


def _line(
    bench: Bench, results: Sequence[FetchResult], duration_ms: int
) -> FetchRecord:
    """One line for all that one asking brought: the gravest outcome names it."""
    outcomes = {each.outcome for each in results}
    entries = [each.entry_id for each in results if each.entry_id is not None]
    return FetchRecord(
        feed=bench.feed.key,
        at=bench.now,
        outcome=next(each for each in _GRAVEST_FIRST if each in outcomes),
        findings=tuple(
            _told(finding, each, among=len(results))
            for each in results
            for finding in each.findings
        ),
        entry_id=entries[0] if len(entries) == 1 else None,
        duration_ms=duration_ms,
    )


def _told(finding: Finding, result: FetchResult, *, among: int) -> Finding:
    if among == 1:
        return finding
    return replace(finding, text=f"{result.currency}: {finding.text}")


_CHANGED = Finding(
    code="feed_changed",
    text="The feed was changed while it was asked, and its answer is not used; "
    "fetch again.",
    weight="ignore",
)
