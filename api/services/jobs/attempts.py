"""Attempts of an open job: added as they happen, corrected, taken back."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import datetime

from api.ports import Clock, Conflict, UnitOfWork
from api.ports.jobs import Job, LoggedAttempt
from api.services.audit import note
from api.services.jobs.changes import still_open, written
from api.services.jobs.checks import check_attempt
from api.services.jobs.document import attempt_document
from api.services.jobs.plan import read_plan
from api.services.jobs.terms import MOST_ATTEMPTS, AttemptAsk
from api.services.jobs.writing import attempt_in, log_of
from api.services.snapshots import Snapshots
from pricing.errors import InvalidInput


class JobAttempts:
    """What became of each coin that was put to work."""

    def __init__(self, snapshots: Snapshots, clock: Clock) -> None:
        self._snapshots = snapshots
        self._clock = clock

    def add(self, job_id: str, ask: AttemptAsk) -> tuple[Job, LoggedAttempt]:
        """Write an attempt down; the job, and the attempt with its number.

        Raises:
            NotFound: there is no such job.
            Conflict: it is completed, or has an open attempt of the line already.
            InvalidInput: the attempt cannot be, or there are too many.
        """

        def add(unit: UnitOfWork) -> tuple[Job, LoggedAttempt]:
            job, at = still_open(unit, job_id), self._clock.now()
            check_attempt(read_plan(job.plan), ask)
            new = next_attempt(job, log_of(unit, job).attempts, ask, at=at)
            unit.jobs.add_attempts([(job.seq, new)])
            note(unit, at, "attempt.added", job.id, after=_told(job, new))
            return written(unit, job), new

        return self._snapshots.write(add)

    def change(
        self, job_id: str, n: int, ask: AttemptAsk, *, expected: int | None
    ) -> tuple[Job, LoggedAttempt]:
        """Write down anew what became of an attempt.

        Raises:
            NotFound: there is no such job, or no attempt ``n`` of it.
            PreconditionFailed: the job has another version than ``expected``.
            Conflict: it is completed, or has another open attempt of the line.
            InvalidInput: the attempt cannot be.
        """

        def change(unit: UnitOfWork) -> tuple[Job, LoggedAttempt]:
            job, at = still_open(unit, job_id, expected), self._clock.now()
            check_attempt(read_plan(job.plan), ask)
            log = log_of(unit, job)
            old = attempt_in(log, job, n)
            others = [each for each in log.attempts if each.n != n]
            refuse_second_open(job, others, ask)
            new = ask.logged(n, old.at, old.entry)
            unit.jobs.replace_attempt(job.seq, new)
            before, after = _told(job, old), _told(job, new)
            note(unit, at, "attempt.changed", job.id, before=before, after=after)
            return written(unit, job), new

        return self._snapshots.write(change)

    def remove(self, job_id: str, n: int, *, expected: int | None) -> Job:
        """Take an attempt back, as if it had not been; the others keep their numbers.

        Raises:
            NotFound: there is no such job, or no attempt ``n`` of it.
            PreconditionFailed: the job has another version than ``expected``.
            Conflict: it is completed.
        """

        def remove(unit: UnitOfWork) -> Job:
            job, at = still_open(unit, job_id, expected), self._clock.now()
            old = attempt_in(log_of(unit, job), job, n)
            unit.jobs.remove_attempt(job.seq, n)
            note(unit, at, "attempt.removed", job.id, before=_told(job, old))
            return written(unit, job)

        return self._snapshots.write(remove)


def next_attempt(
    job: Job, before: Sequence[LoggedAttempt], ask: AttemptAsk, *, at: datetime
) -> LoggedAttempt:
    """An attempt under the next number of its job.

    Raises:
        Conflict: it is open, and another one of its line is.
        InvalidInput: the job has too many.
    """
    if len(before) >= MOST_ATTEMPTS:
        raise InvalidInput(
            f"job {job.number} has {len(before)} attempts; a job takes up to "
            f"{MOST_ATTEMPTS}"
        )
    refuse_second_open(job, before, ask)
    last = max((each.n for each in before), default=0)
    return ask.logged(last + 1, at)


def refuse_second_open(
    job: Job, others: Iterable[LoggedAttempt], ask: AttemptAsk
) -> None:
    """Raise Conflict for an open attempt beside another of its line."""
    for other in others:
        if other.outcome == ask.outcome == "open" and other.line == ask.line:
            raise Conflict(
                f"attempt {other.n} of job {job.number} is still open; say how it "
                "ended first"
            )


def _told(job: Job, attempt: LoggedAttempt) -> dict[str, object]:
    said = attempt_document(attempt)
    known = {name: value for name, value in said.items() if value not in _NOTHING}
    return {"number": job.number, **known}


_NOTHING: tuple[object, ...] = (None, "", {})
