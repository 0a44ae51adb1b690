"""The bench log and what is read from it, wired together."""

from __future__ import annotations

from dataclasses import dataclass

from api.ports import Clock
from api.services import PriceBooks, Snapshots
from api.services.jobs.attempts import JobAttempts
from api.services.jobs.jobs import Jobs
from api.services.jobs.opening import JobOpening
from api.services.jobs.stopwatch import Stopwatch
from api.services.quotes.making import QuoteMaking


@dataclass(frozen=True, slots=True, kw_only=True)
class Bench:
    """What is written down at the bench, and what came of it."""

    jobs: Jobs
    attempts: JobAttempts
    stopwatch: Stopwatch


def make_bench(
    snapshots: Snapshots, clock: Clock, *, books: PriceBooks, making: QuoteMaking
) -> Bench:
    """The services of the bench."""
    opening = JobOpening(books, making)
    return Bench(
        jobs=Jobs(snapshots, clock, books=books, opening=opening),
        attempts=JobAttempts(snapshots, clock),
        stopwatch=Stopwatch(snapshots, clock),
    )
