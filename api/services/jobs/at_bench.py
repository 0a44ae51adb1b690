"""What is at the bench: open jobs with their stopwatches, and what was sold for it."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass
from typing import Literal

from api.ports import Clock, QuoteFilter, StoredQuote, UnitOfWork
from api.ports.jobs import Job, JobFilter, JobLog, LoggedAttempt
from api.services.jobs.stopwatch import Running, measured
from api.services.snapshots import Snapshots

MOST_JOBS = 200
"""Open jobs that are looked through, newest first [count]."""
MOST_QUOTES = 200
"""Accepted quotes that are looked through, newest first [count]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class JobAtBench:
    """An open job, with what was done of it.

    Attributes:
        running: its stopwatch, if one runs.
        good, scrapped: attempts that ended so [count]; ``open`` those at the bench.
    """

    job: Job
    running: Running | None
    good: int
    scrapped: int
    open: int


@dataclass(frozen=True, slots=True, kw_only=True)
class BenchNow:
    """What is at the bench.

    Attributes:
        jobs: those that are timed first, then newest first.
        more: whether there are older ones that were not looked at.
    """

    jobs: tuple[JobAtBench, ...]
    more: bool


class AtBench:
    """What the bench is busy with, and what waits for it."""

    def __init__(self, snapshots: Snapshots, clock: Clock) -> None:
        self._snapshots = snapshots
        self._clock = clock

    def now(self) -> BenchNow:
        """The open jobs, those that are timed first."""

        def read(unit: UnitOfWork) -> BenchNow:
            wanted = JobFilter(status="open")
            jobs = unit.jobs.page(wanted, limit=MOST_JOBS + 1, past=None)
            shown = jobs[:MOST_JOBS]
            logs = unit.jobs.log(shown)
            found = [self._seen(job, logs[job.seq]) for job in shown]
            found.sort(key=lambda each: each.running is None)
            return BenchNow(jobs=tuple(found), more=len(jobs) > MOST_JOBS)

        return self._snapshots.read(read)

    def sold(self) -> tuple[StoredQuote, ...]:
        """Accepted quotes that have no job yet, oldest first."""

        def read(unit: UnitOfWork) -> tuple[StoredQuote, ...]:
            wanted = QuoteFilter(now=self._clock.now(), status="accepted")
            quotes = unit.quotes.page(wanted, limit=MOST_QUOTES, past=None)
            begun = {*_quotes_begun(unit, quotes)}
            return tuple(each for each in reversed(quotes) if each.id not in begun)

        return self._snapshots.read(read)

    def _seen(self, job: Job, log: JobLog) -> JobAtBench:
        timer, now = log.timer, self._clock.now()
        return JobAtBench(
            job=job,
            running=None if timer is None else measured(timer, now),
            good=_count(log.attempts, "good"),
            scrapped=_count(log.attempts, "scrapped"),
            open=_count(log.attempts, "open"),
        )


def _quotes_begun(
    unit: UnitOfWork, quotes: Collection[StoredQuote]
) -> Iterator[str | None]:
    found = unit.jobs.find([quote.number for quote in quotes])
    yield from (job.quote_id for jobs in found.values() for job in jobs)


def _count(
    attempts: Sequence[LoggedAttempt], outcome: Literal["open", "good", "scrapped"]
) -> int:
    return sum(each.outcome == outcome for each in attempts)
