"""Margin checks: the sums of some days, judged, with what is proposed and promised."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from api.ports import Clock, NotFound, UnitOfWork
from api.ports.margin_checks import (
    CheckedJob,
    CoinReadings,
    CoinSums,
    JobSums,
    PromisedQuote,
    Span,
    StageSums,
)
from api.services.coins import Coins
from api.services.margin_checks import spans
from api.services.margin_checks.check import MarginCheck, no_jobs
from api.services.margin_checks.flags import flags_of
from api.services.margin_checks.judging import Books, judged_stages, proposed
from api.services.margin_checks.promises import MOST_QUOTES, open_promises
from api.services.margin_checks.proposals import Accepted, Proposed, Standards
from api.services.price_book import PriceBooks
from api.services.quotes.making import local_date
from api.services.snapshots import Snapshots
from api.services.spot.spot_prices import SpotPrices
from pricing.errors import BookRefused
from pricing.iso_week import IsoWeek
from pricing.price_book import PriceBook

JOBS_SHOWN = 100
"""Jobs that are listed, where nothing else is asked for [count]."""
MOST_JOBS = 5000


@dataclass(frozen=True, slots=True, kw_only=True)
class _Sums:
    """All that one check asks of the storage."""

    span: tuple[JobSums, ...]
    weeks: tuple[JobSums, ...]
    coins: tuple[CoinSums, ...]
    stages: tuple[StageSums, ...]
    jobs: tuple[CheckedJob, ...]
    evidence: tuple[StageSums, ...]
    readings: tuple[CoinReadings, ...]
    promised: tuple[PromisedQuote, ...]


class MarginChecks:
    """Checks any week, or any days, by the price book in force; stores nothing."""

    def __init__(
        self,
        snapshots: Snapshots,
        clock: Clock,
        *,
        books: PriceBooks,
        coins: Coins,
        spots: SpotPrices,
    ) -> None:
        self._snapshots = snapshots
        self._clock = clock
        self._books = books
        self._standards = Standards(snapshots, books=books, coins=coins, spots=spots)

    def this_week(self) -> IsoWeek:
        """The week it is in the workshop. Raises NotFound without a price book."""
        return IsoWeek.of(local_date(self._books.current(), self._clock.now()))

    def week(
        self,
        week: IsoWeek,
        *,
        window_weeks: int = spans.WEEKS_JUDGED,
        most_jobs: int = JOBS_SHOWN,
    ) -> MarginCheck:
        """The check of a week.

        Args:
            week: which one; it need not be over.
            window_weeks: how many weeks stages are judged by [weeks].
            most_jobs: how many jobs are listed [count].

        Raises:
            NotFound: there is no price book yet.
            InvalidInput: the window is out of range.
        """
        span = spans.week_span(week)
        window = spans.window_of(span, window_weeks)
        return self._check(span, week, window=window, most_jobs=most_jobs)

    def days(
        self,
        first: date,
        last: date,
        *,
        window_weeks: int = spans.WEEKS_JUDGED,
        most_jobs: int = JOBS_SHOWN,
    ) -> MarginCheck:
        """The check of all days from one to another, both among them; as `week`.

        Raises:
            InvalidInput: the wrong way round, too long, or the window out of range.
        """
        span = spans.day_span(first, last)
        window = spans.window_of(span, window_weeks)
        return self._check(span, None, window=window, most_jobs=most_jobs)

    def proposals(
        self, week: IsoWeek, *, window_weeks: int = spans.WEEKS_JUDGED
    ) -> Proposed:
        """What the weeks up to one propose, and what that would do to prices.

        Raises:
            NotFound, InvalidInput: as for `week`.
        """
        with self._snapshots.held():
            check = self.week(week, window_weeks=window_weeks, most_jobs=0)
            return self._standards.proposed(check)

    def accept(
        self,
        week: IsoWeek,
        paths: Sequence[str],
        *,
        expected: int | None,
        window_weeks: int = spans.WEEKS_JUDGED,
    ) -> Accepted:
        """Put proposed standards into a new version of the price book.

        Args:
            week: the last of the weeks they were proposed by.
            paths: which ones, such as ``stages.fold.scrap``.
            expected: the version they were seen with [count]; None for whatever it is.
            window_weeks: as they were asked for.

        Raises:
            NotFound: there is no price book yet.
            InvalidInput: a path that is not proposed, or none at all.
            PreconditionFailed: another version is in force.
            BookRefused: the book would not be sound with them.
        """
        with self._snapshots.held():
            check = self.week(week, window_weeks=window_weeks, most_jobs=0)
            return self._standards.accept(check, paths, expected=expected)

    def _check(
        self, span: Span, week: IsoWeek | None, *, window: Span, most_jobs: int
    ) -> MarginCheck:
        with self._snapshots.held():
            book = self._books.current()
            sums = self._snapshots.read(
                lambda unit: self._asked(unit, book, (span, window), most_jobs)
            )
        books = self._versions(book)
        judged = judged_stages(book, sums.evidence, books)
        code = book.currency.code
        return MarginCheck(
            span=span,
            week=week,
            currency=book.currency,
            timezone=book.timezone,
            sums=next(
                (x for x in sums.span if x.currency == code), no_jobs(book.currency)
            ),
            other_currencies=sum(x.jobs for x in sums.span if x.currency != code),
            coins=sums.coins,
            stages=_in_order(book, sums.stages),
            jobs=sums.jobs,
            window=window,
            judged=judged,
            flags=flags_of(sums.jobs, judged, book.currency),
            proposals=proposed(book, judged, sums.readings, books),
            promises=open_promises(sums.promised, book.currency),
            trend=_trend(span, sums.weeks, book),
        )

    def _asked(
        self, unit: UnitOfWork, book: PriceBook, days: tuple[Span, Span], most: int
    ) -> _Sums:
        (span, window), code, checks = days, book.currency.code, unit.margin_checks
        weeks = spans.weeks_to(span)
        shown = Span(first=weeks[0].days[0], last=weeks[-1].days[1])
        return _Sums(
            span=checks.sums(span),
            weeks=checks.weekly(shown, code),
            coins=checks.coins(span, code),
            stages=checks.stages(span, code),
            jobs=checks.jobs(span, code, limit=most) if most else (),
            evidence=checks.evidence(window),
            readings=checks.readings(window),
            promised=checks.promised(self._clock.now(), limit=MOST_QUOTES + 1),
        )

    def _versions(self, book: PriceBook) -> Books:
        """Looks versions of the book up, each once."""
        known: dict[int, PriceBook | None] = {book.version: book}

        def version(number: int) -> PriceBook | None:
            if number not in known:
                try:
                    known[number] = self._books.version(number)
                except (NotFound, BookRefused):
                    known[number] = None  # kept under other rules
            return known[number]

        return version


def _in_order(book: PriceBook, sums: Sequence[StageSums]) -> tuple[StageSums, ...]:
    """Stages in the order of the route; those that it has no more come last."""
    route = {stage.key: place for place, stage in enumerate(book.stages)}
    return tuple(sorted(sums, key=lambda each: route.get(each.stage, len(route))))


def _trend(span: Span, sums: Sequence[JobSums], book: PriceBook) -> tuple[JobSums, ...]:
    """Each week of the trend, also those without a job."""
    known = {each.week: each for each in sums}
    weeks = map(str, spans.weeks_to(span))
    return tuple(known.get(x) or no_jobs(book.currency, x) for x in weeks)
