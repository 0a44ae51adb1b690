"""The bench log and what is read from it, wired together."""

from __future__ import annotations

from dataclasses import dataclass

from api.ports import Clock
from api.services import Coins, PriceBooks, Snapshots, SpotPrices
from api.services.jobs.at_bench import AtBench
from api.services.jobs.attempts import JobAttempts
from api.services.jobs.files import JobFiles
from api.services.jobs.jobs import Jobs
from api.services.jobs.opening import JobOpening
from api.services.jobs.stopwatch import Stopwatch
from api.services.margin_checks.margin_checks import MarginChecks
from api.services.quotes.making import QuoteMaking


@dataclass(frozen=True, slots=True, kw_only=True)
class Bench:
    """What is written down at the bench, and what came of it."""

    jobs: Jobs
    at_bench: AtBench
    attempts: JobAttempts
    files: JobFiles
    stopwatch: Stopwatch
    margin_checks: MarginChecks


def make_bench(  # noqa: PLR0913 - what a price stands on, by name
    snapshots: Snapshots,
    clock: Clock,
    *,
    books: PriceBooks,
    coins: Coins,
    spots: SpotPrices,
    making: QuoteMaking,
) -> Bench:
    """The services of the bench."""
    opening = JobOpening(books, making)
    return Bench(
        jobs=Jobs(snapshots, clock, books=books, opening=opening),
        at_bench=AtBench(snapshots, clock),
        attempts=JobAttempts(snapshots, clock),
        files=JobFiles(snapshots, clock, books=books, opening=opening),
        stopwatch=Stopwatch(snapshots, clock),
        margin_checks=MarginChecks(
            snapshots, clock, books=books, coins=coins, spots=spots
        ),
    )
