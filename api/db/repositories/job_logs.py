"""What was written down for jobs: attempts, coins and timers."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Mapping, Sequence
from datetime import datetime

from sqlalchemy import (
    ColumnElement,
    Connection,
    Table,
    and_,
    delete,
    insert,
    select,
    update,
)

from api.db.job_log_mapping import attempt, attempt_values, coins, coins_values, timer
from api.db.job_tables import job_attempts, job_coins, stage_timers
from api.db.mapping import AnyRow, Values
from api.db.repositories.in_parts import in_parts
from api.db.repositories.upserts import add_unless_there
from api.ports.jobs import Job, JobLog, LoggedAttempt, LoggedCoins, StageTimer


def logs_of(connection: Connection, jobs: Collection[Job]) -> Mapping[int, JobLog]:
    """What was written down for each job, by its ``seq``."""
    seqs = [each.seq for each in jobs]
    attempts = _rows(connection, job_attempts, seqs)
    taken = _rows(connection, job_coins, seqs)
    timers = _rows(connection, stage_timers, seqs)
    return {
        seq: JobLog(
            attempts=tuple(attempt(row) for row in attempts[seq]),
            coins=tuple(coins(row) for row in taken[seq]),
            timer=next((timer(row) for row in timers[seq]), None),
        )
        for seq in seqs
    }


def add_attempts(
    connection: Connection, new: Sequence[tuple[int, LoggedAttempt]]
) -> None:
    """Write attempts down, each with the ``seq`` of its job and its number."""
    if new:
        connection.execute(
            insert(job_attempts), [attempt_values(*each) for each in new]
        )


def replace_attempt(connection: Connection, job: int, new: LoggedAttempt) -> bool:
    """Whether the job has an attempt of this number, and it is this now."""
    change = update(job_attempts).where(_attempt(job, new.n))
    done = connection.execute(
        change.values(**attempt_values(job, new)).returning(job_attempts.c.n)
    )
    return bool(done.all())


def remove_attempt(connection: Connection, job: int, n: int) -> bool:
    """Whether there was such an attempt."""
    gone = delete(job_attempts).where(_attempt(job, n)).returning(job_attempts.c.n)
    return bool(connection.execute(gone).all())


def set_coins(
    connection: Connection, taken: Mapping[int, Sequence[LoggedCoins]]
) -> None:
    """Write the coins of jobs down, in place of those before."""
    clear(connection, job_coins, taken)
    rows: list[Values] = [
        coins_values(job, n, each)
        for job, some in taken.items()
        for n, each in enumerate(some, 1)
    ]
    if rows:
        connection.execute(insert(job_coins), rows)


def start_timer(connection: Connection, job: int, new: StageTimer) -> bool:
    """Whether no timer ran for the job, and this one does now."""
    row: Values = {
        "job": job,
        "line": new.line,
        "stage": new.stage,
        "started_at": new.started_at,
        "started_by": new.started_by,
    }
    return add_unless_there(connection, stage_timers, row)


def stop_timer(connection: Connection, job: int, *, started_at: datetime) -> bool:
    """Whether the timer that started then was running, and is gone."""
    here = stage_timers.c.job == job, stage_timers.c.started_at == started_at
    gone = delete(stage_timers).where(*here).returning(stage_timers.c.job)
    return bool(connection.execute(gone).all())


def clear(connection: Connection, table: Table, jobs: Collection[int]) -> None:
    """Remove what a table holds of some jobs."""
    for part in in_parts(jobs):
        connection.execute(delete(table).where(table.c.job.in_(part)))


def _attempt(job: int, n: int) -> ColumnElement[bool]:
    return and_(job_attempts.c.job == job, job_attempts.c.n == n)


def _rows(
    connection: Connection, table: Table, jobs: Collection[int]
) -> Mapping[int, list[AnyRow]]:
    """Rows of some jobs by their ``seq``, in the order of the table's key."""
    found: dict[int, list[AnyRow]] = defaultdict(list)
    for part in in_parts(jobs):
        query = select(table).where(table.c.job.in_(part))
        for row in connection.execute(query.order_by(*table.primary_key)):
            found[row.job].append(row)
    return found
