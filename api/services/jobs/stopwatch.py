"""A stopwatch for each job: started at a stage, stopped into the open attempt."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from decimal import Decimal

from api.ports import Clock, Conflict, NotFound, UnitOfWork
from api.ports.jobs import Job, LoggedAttempt, StageTimer
from api.services.actor import actor
from api.services.audit import note
from api.services.jobs.attempts import next_attempt
from api.services.jobs.changes import found, still_open, written
from api.services.jobs.checks import check_attempt
from api.services.jobs.plan import read_plan
from api.services.jobs.terms import AttemptAsk
from api.services.jobs.writing import log_of
from api.services.snapshots import Snapshots
from pricing import money
from pricing.errors import InvalidInput
from pricing.money import ZERO

LONGEST = timedelta(hours=12)
"""What runs longer was forgotten, and says nothing of the work."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Running:
    """A stopwatch that runs.

    Attributes:
        minutes: since it was started [min].
        forgotten: whether that is too long to be work.
    """

    timer: StageTimer
    minutes: Decimal
    forgotten: bool


class Stopwatch:
    """Measures the minutes of a stage, driven by whoever works there."""

    def __init__(self, snapshots: Snapshots, clock: Clock) -> None:
        self._snapshots = snapshots
        self._clock = clock

    def running(self, job_id: str) -> tuple[Job, Running | None]:
        """The job, and its stopwatch if one runs. Raises NotFound."""

        def read(unit: UnitOfWork) -> tuple[Job, StageTimer | None]:
            job = found(unit.jobs.get(job_id), job_id)
            return job, log_of(unit, job).timer

        job, timer = self._snapshots.read(read)
        return job, None if timer is None else measured(timer, self._clock.now())

    def start(self, job_id: str, stage: str, *, line: int = 0) -> tuple[Job, Running]:
        """Start measuring at a stage of a line of the job.

        Raises:
            NotFound: there is no such job.
            Conflict: it is completed, or a stopwatch runs for it.
            InvalidInput: the plan has no such line, or no such stage of it.
        """

        def start(unit: UnitOfWork) -> tuple[Job, Running]:
            job, now = still_open(unit, job_id), self._clock.now()
            plan = read_plan(job.plan)
            tried = AttemptAsk(line=line, outcome="open", minutes={stage: ZERO})
            try:
                check_attempt(plan, tried)
            except InvalidInput as error:
                member = "line" if error.path[-1:] == ("line",) else "stage"
                raise InvalidInput(error.message, path=(member,)) from error
            timer = StageTimer(
                line=line, stage=stage, started_at=now, started_by=actor().by
            )
            if not unit.jobs.start_timer(job.seq, timer):
                raise Conflict(
                    f"a stopwatch runs for job {job.number} already; stop it or throw "
                    "it away first"
                )
            return written(unit, job), measured(timer, now)

        return self._snapshots.write(start)

    def stop(self, job_id: str) -> tuple[Job, LoggedAttempt]:
        """Stop, and add the minutes to the open attempt of the line.

        Where none is open, one is begun. The job, and the attempt as it is now.

        Raises:
            NotFound: there is no such job, or no stopwatch runs for it.
            Conflict: it has run for longer than `LONGEST`.
            InvalidInput: the attempt would be too long, or there are too many.
        """

        def stop(unit: UnitOfWork) -> tuple[Job, LoggedAttempt]:
            job, now = still_open(unit, job_id), self._clock.now()
            log = log_of(unit, job)
            ran = self._stopped(unit, job, log.timer, now)
            attempt = _open_attempt(log.attempts, ran.timer.line)
            if attempt is None:
                ask = AttemptAsk(line=ran.timer.line, outcome="open")
                attempt = next_attempt(job, log.attempts, ask, at=now)
                unit.jobs.add_attempts([(job.seq, attempt)])
            attempt = _longer(attempt, ran)
            check_attempt(read_plan(job.plan), attempt)
            unit.jobs.replace_attempt(job.seq, attempt)
            told = {
                "number": job.number,
                "attempt": attempt.n,
                "stage": ran.timer.stage,
                "minutes": ran.minutes,
            }
            note(unit, now, "timer.stopped", job.id, after=told)
            return written(unit, job), attempt

        return self._snapshots.write(stop)

    def discard(self, job_id: str) -> Job:
        """Throw a stopwatch away; no minute is added.

        Raises:
            NotFound: there is no such job, or no stopwatch runs for it.
        """

        def discard(unit: UnitOfWork) -> Job:
            job, now = still_open(unit, job_id), self._clock.now()
            timer = _there(job, log_of(unit, job).timer)
            unit.jobs.stop_timer(job.seq, started_at=timer.started_at)
            told = {"number": job.number, "stage": timer.stage}
            note(unit, now, "timer.discarded", job.id, before=told)
            return written(unit, job)

        return self._snapshots.write(discard)

    @staticmethod
    def _stopped(
        unit: UnitOfWork, job: Job, timer: StageTimer | None, now: datetime
    ) -> Running:
        ran = measured(_there(job, timer), now)
        if ran.forgotten:
            hours = LONGEST // timedelta(hours=1)
            raise Conflict(
                f"the stopwatch of job {job.number} has run for over {hours} hours, "
                "which says nothing of the work; throw it away and enter the minutes"
            )
        if not unit.jobs.stop_timer(job.seq, started_at=ran.timer.started_at):
            raise _none_runs(job)
        return ran


def _there(job: Job, timer: StageTimer | None) -> StageTimer:
    if timer is None:
        raise _none_runs(job)
    return timer


def _none_runs(job: Job) -> NotFound:
    return NotFound(f"no stopwatch runs for job {job.number}; start one at a stage")


def measured(timer: StageTimer, now: datetime) -> Running:
    """A stopwatch as it is at a moment."""
    # A clock that was set back does not make it negative.
    ran = max(now - timer.started_at, timedelta())
    with money.arithmetic():
        minutes = money.minutes(Decimal(ran // timedelta(milliseconds=1)) / 60_000)
    return Running(timer=timer, minutes=minutes, forgotten=ran > LONGEST)


def _open_attempt(
    attempts: tuple[LoggedAttempt, ...], line: int
) -> LoggedAttempt | None:
    for attempt in attempts:
        if attempt.outcome == "open" and attempt.line == line:
            return attempt
    return None


def _longer(attempt: LoggedAttempt, ran: Running) -> LoggedAttempt:
    stage = ran.timer.stage
    minutes = attempt.minutes.get(stage, ZERO) + ran.minutes
    return replace(attempt, minutes={**attempt.minutes, stage: minutes})
