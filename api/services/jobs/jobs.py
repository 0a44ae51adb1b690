"""Jobs: opened for what was sold, written down at the bench, completed, corrected."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from datetime import datetime
from typing import Any

from api.ports import Clock, Conflict, UnitOfWork
from api.ports.jobs import Job, JobFilter, JobLog, LoggedCoins
from api.services.actor import actor
from api.services.audit import note
from api.services.jobs.changes import (
    as_expected,
    found,
    opened_again,
    still_open,
    written,
)
from api.services.jobs.document import job_document
from api.services.jobs.opening import JobOpening
from api.services.jobs.pages import JobPage, job_page
from api.services.jobs.terms import JobAsk, LogAsk, read_money
from api.services.jobs.writing import (
    completing,
    log_of,
    note_change,
    refuse_moment,
    write_log,
)
from api.services.price_book import PriceBooks
from api.services.snapshots import Snapshots
from pricing.margin_check.actual import MONEY


class Jobs:
    """The bench log."""

    def __init__(
        self,
        snapshots: Snapshots,
        clock: Clock,
        *,
        books: PriceBooks,
        opening: JobOpening,
    ) -> None:
        self._snapshots = snapshots
        self._clock = clock
        self._books = books
        self._opening = opening

    def open(self, ask: JobAsk, log: LogAsk | None = None) -> Job:
        """Open a job, with what is known of it already.

        Args:
            ask: what it is for.
            log: what is to be written down at once; with a moment when it was done
                it is completed.

        Raises:
            NotFound: there is no such quote or listing, or no price book.
            Conflict: the quote is not accepted, or has its job already.
            InvalidInput: with every fault, by its path in the job's document.
            SpotUnavailable, StaleSpot: as for an estimate of the listing's piece.
        """

        def open_(unit: UnitOfWork) -> Job:
            at = self._clock.now()
            (job,) = self._opening.open(unit, [ask], at=at)
            if log is None:
                return job
            job = written(unit, write_log(unit, job, log, at=at))
            if log.completed_at is not None:
                job = self._completed(unit, job, log.completed_at, now=at)
            return job

        with self._snapshots.held():
            self._snapshots.take()  # so that nothing is loaded while others wait
            return self._snapshots.transaction(open_)

    def get(self, job_id: str) -> Job:
        """The job of an id. Raises NotFound."""
        read = self._snapshots.read
        return found(read(lambda unit: unit.jobs.get(job_id)), job_id)

    def find(self, name: str) -> Job:
        """The job of an id, number or reference, or of its quote's name.

        Raises:
            NotFound: there is none.
            Conflict: there are several.
        """
        jobs = self._snapshots.read(lambda unit: unit.jobs.find([name])).get(name, ())
        if len(jobs) > 1:
            numbers = ", ".join(job.number for job in jobs)
            raise Conflict(f"'{name[:40]}' could be {numbers}; give one of these")
        return found(jobs[0] if jobs else None, name)

    def page(
        self,
        wanted: JobFilter,
        *,
        limit: int,
        past: int | None = None,
        newer: bool = False,
    ) -> JobPage:
        """The jobs that are next to one of them, newest first.

        Args:
            wanted: which jobs.
            limit: at most so many [count], 1 to 100.
            past: only older ones than that of this ``seq``, or with ``newer``
                younger ones; None begins at the newest, with ``newer`` at the oldest.
            newer: which way to go.

        Raises:
            InvalidInput: the limit is out of range.
        """
        return job_page(
            self._snapshots.storage, wanted, limit=limit, past=past, newer=newer
        )

    def log(self, job: Job) -> JobLog:
        """What was written down for a job."""
        return self._snapshots.read(lambda unit: log_of(unit, job))

    def document(self, job: Job) -> dict[str, Any]:
        """The job as it is written on the wire, whole."""
        return job_document(job, self.log(job))

    def change(self, job_id: str, ask: LogAsk, *, expected: int | None) -> Job:
        """Write down anew what is known of a job; a completed one is corrected.

        Args:
            job_id: which one.
            ask: all its money and coins; attempts where they change, and the moment
                when it was done where that does, of a completed job.
            expected: the version that was seen [count]; None for whatever it is.

        Raises:
            NotFound, PreconditionFailed: as `changes.as_expected`.
            Conflict: it is open, and said to be done: complete it.
            InvalidInput: with every fault, by its path in the job's document.
        """

        def change(unit: UnitOfWork) -> Job:
            at = self._clock.now()
            old = as_expected(unit, job_id, expected)
            before = job_document(old, log_of(unit, old))
            job = write_log(unit, old, ask, at=at)
            if ask.completed_at is not None and old.status == "open":
                raise Conflict(
                    f"job {old.number} is open; complete it, rather than say when it "
                    "was done"
                )
            if old.completed_at is None:
                job = written(unit, job)
            else:
                done = ask.completed_at or old.completed_at
                job = self._done(unit, job, done, now=at, by=old.completed_by)
            told = job_document(job, log_of(unit, job))
            note_change(unit, at, job, before=_told(before), after=_told(told))
            return job

        with self._snapshots.held():
            self._snapshots.take()
            return self._snapshots.write(change)

    def complete(
        self,
        job_id: str,
        *,
        expected: int | None,
        at: datetime | None = None,
        money: Mapping[str, Any] | None = None,
        coins: tuple[LoggedCoins, ...] | None = None,
    ) -> Job:
        """Say that a job is done, and work out what it came to.

        Args:
            job_id: which one.
            expected: the version that was seen [count]; None for whatever it is.
            at: when it was done; None for now. Its day in the workshop decides the
                week it counts in.
            money: what becomes known of it, by the names of `JobMoney`.
            coins: taken for it; None leaves what is written down.

        Raises:
            NotFound, PreconditionFailed: as `changes.as_expected`.
            Conflict: it is completed already, or something of it is still going on.
            InvalidInput: what is written down cannot be, or the moment is to come.
        """

        def complete(unit: UnitOfWork) -> Job:
            now = self._clock.now()
            job = still_open(unit, job_id, expected)
            known = replace(read_money(job.money), **(money or {}))
            taken = log_of(unit, job).coins if coins is None else coins
            job = write_log(unit, job, LogAsk(money=known, coins=taken), at=now)
            return self._completed(unit, job, at or now, now=now)

        with self._snapshots.held():
            self._snapshots.take()
            return self._snapshots.write(complete)

    def reopen(self, job_id: str, *, expected: int | None) -> Job:
        """Take back that a job is done; what is written down for it stays.

        Raises:
            NotFound, PreconditionFailed: as `changes.as_expected`.
            Conflict: it is open.
        """

        def reopen(unit: UnitOfWork) -> Job:
            job = as_expected(unit, job_id, expected)
            if job.status == "open":
                raise Conflict(f"job {job.number} is open already")
            unit.jobs.clear_results(job.seq)
            again = opened_again(job)
            before = {"week": job.week, "completed_at": job.completed_at}
            after = {"number": job.number}
            at = self._clock.now()
            note(unit, at, "job.reopened", job.id, before=before, after=after)
            return written(unit, again)

        return self._snapshots.write(reopen)

    def _completed(
        self, unit: UnitOfWork, job: Job, at: datetime, *, now: datetime
    ) -> Job:
        job = self._done(unit, job, at, now=now, by=actor().by)
        told: dict[str, object] = {"number": job.number, "week": job.week}
        if job.result is not None:
            told |= {"margin": job.result.margin, "planned": job.planned_margin}
        note(unit, now, "job.completed", job.id, after=told)
        return job

    def _done(
        self, unit: UnitOfWork, job: Job, at: datetime, *, now: datetime, by: str
    ) -> Job:
        refuse_moment(at, now)
        return completing(unit, job, at=at, by=by, book=self._books.current())


def _told(document: Mapping[str, Any]) -> dict[str, object]:
    """What of a job's document the audit trail compares: what people write down."""
    names = (*MONEY, "coins", "attempts", "completed_at", "week")
    return {name: document[name] for name in names}
