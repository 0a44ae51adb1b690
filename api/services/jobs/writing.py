"""Writing into the log of one job, in the transaction of whoever changes it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from datetime import datetime

from api.ports import Conflict, NotFound, UnitOfWork
from api.ports.jobs import Job, JobLog, LoggedAttempt, LoggedCoins
from api.services.audit import difference, note
from api.services.jobs.checks import check_log
from api.services.jobs.plan import read_plan
from api.services.jobs.result import completed
from api.services.jobs.terms import AttemptAsk, LogAsk, money_text
from pricing.errors import InvalidInput
from pricing.price_book import PriceBook


def log_of(unit: UnitOfWork, job: Job) -> JobLog:
    """What was written down for a job."""
    return unit.jobs.log([job])[job.seq]


def write_log(unit: UnitOfWork, job: Job, ask: LogAsk, *, at: datetime) -> Job:
    """The job with its money; coins and attempts are written as they were asked.

    Raises:
        InvalidInput: with every fault, by its path in the job's document.
    """
    log = log_of(unit, job)
    attempts = log.attempts
    if ask.attempts is not None:
        attempts = tuple(_known_again(log.attempts, ask.attempts, at))
    check_log(read_plan(job.plan), ask.money, ask.coins, attempts)
    if ask.attempts is not None:
        for old in log.attempts:
            unit.jobs.remove_attempt(job.seq, old.n)
        unit.jobs.add_attempts([(job.seq, each) for each in attempts])
    if ask.coins != tuple(replace(each, entry=None) for each in log.coins):
        unit.jobs.set_coins({job.seq: tuple(_coins_known_again(log.coins, ask.coins))})
    return replace(job, money=money_text(ask.money))


def _known_again(
    before: Sequence[LoggedAttempt], asks: Sequence[AttemptAsk], at: datetime
) -> Iterator[LoggedAttempt]:
    """Attempts in place of others: one that was there is known to its file still."""
    now = [ask.logged(n, at) for n, ask in enumerate(asks, 1)]
    plain = [replace(old, n=0, at=at, entry=None) for old in before]
    places = _places_before(plain, [replace(new, n=0) for new in now])
    for place, new in enumerate(now):
        found = places.get(place)
        if found is None:
            yield new
        else:
            old = before[found]
            same = replace(old, n=new.n, at=at, entry=None) == new
            yield replace(new, entry=old.entry, at=old.at if same else at)


def _coins_known_again(
    before: Sequence[LoggedCoins], coins: Sequence[LoggedCoins]
) -> Iterator[LoggedCoins]:
    now = [replace(each, entry=None) for each in coins]
    places = _places_before([replace(old, entry=None) for old in before], now)
    for place, new in enumerate(now):
        found = places.get(place)
        yield new if found is None else replace(new, entry=before[found].entry)


def _places_before(before: Sequence[object], now: Sequence[object]) -> dict[int, int]:
    """Where each stood before: where it says the same, else in its own place.

    What neither says the same nor stands in a place that is left is new.
    """
    found = {
        place: place
        for place, (old, new) in enumerate(zip(before, now, strict=False))
        if old == new
    }
    left = [place for place in range(len(before)) if place not in found]
    for place, new in enumerate(now):
        if place not in found:
            other = next((x for x in left if before[x] == new), None)
            if other is not None:
                left.remove(other)
                found[place] = other
    for place in left:
        if place < len(now):
            found.setdefault(place, place)  # corrected where it stood
    return found


def completing(
    unit: UnitOfWork, job: Job, *, at: datetime, by: str, book: PriceBook
) -> Job:
    """The job as done at a moment, written with what it came to, a version on.

    Raises:
        Conflict: an attempt or a stopwatch is still open, or it was changed meanwhile.
        InvalidInput: what is written down for it cannot be.
    """
    log = log_of(unit, job)
    refuse_unfinished(job, log)
    worked = completed(job, log, at=at, by=by, book=book)
    unit.jobs.set_results([worked])
    if not unit.jobs.change(worked.job, expected=job.version):
        raise Conflict(f"job {job.number} was changed meanwhile; read it again")
    return replace(worked.job, version=job.version + 1)


def refuse_unfinished(job: Job, log: JobLog) -> None:
    """Raise Conflict where something of a job is still going on."""
    if log.timer is not None:
        raise Conflict(
            f"a stopwatch runs for job {job.number} at '{log.timer.stage}'; stop it or "
            "throw it away first"
        )
    for attempt in log.attempts:
        if attempt.outcome == "open":
            raise Conflict(
                f"attempt {attempt.n} of job {job.number} is still open; say how it "
                "ended first"
            )


def attempt_in(log: JobLog, job: Job, n: int) -> LoggedAttempt:
    """The attempt of a number. Raises NotFound."""
    for attempt in log.attempts:
        if attempt.n == n:
            return attempt
    raise NotFound(
        f"job {job.number} has no attempt {n}; its attempts are "
        f"{', '.join(str(each.n) for each in log.attempts) or 'none yet'}"
    )


def refuse_moment(at: datetime, now: datetime) -> None:
    """Raise InvalidInput for a job that is said to be done later than now."""
    if at > now:
        raise InvalidInput(
            "this is still to come; give the moment when the job was done",
            path=("completed_at",),
        )


def note_change(
    unit: UnitOfWork,
    at: datetime,
    job: Job,
    *,
    before: Mapping[str, object],
    after: Mapping[str, object],
) -> None:
    """Write down what a change of a whole job changed."""
    was, now = difference(before, after)
    if was or now:
        told = {"number": job.number, **now}
        note(unit, at, "job.changed", job.id, before=was, after=told)
