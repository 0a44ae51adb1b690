"""Jobs: opened, changed, found and read, with what was written down for them."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import replace
from datetime import datetime
from itertools import chain

from sqlalchemy import (
    ColumnElement,
    Connection,
    bindparam,
    insert,
    or_,
    select,
    update,
)

from api.db.job_mapping import (
    job,
    job_line,
    job_stage,
    job_values,
    result_rows,
    standing_values,
)
from api.db.job_tables import job_lines, job_stages, jobs
from api.db.job_tables import job_numbers as numbers
from api.db.quote_mapping import folded
from api.db.quote_tables import quotes
from api.db.repositories import job_logs
from api.db.repositories.in_parts import in_parts
from api.db.repositories.pages import page_of
from api.db.repositories.upserts import count_up
from api.ports import Conflict
from api.ports.jobs import (
    Job,
    JobFilter,
    JobLine,
    JobLog,
    JobStage,
    LoggedAttempt,
    LoggedCoins,
    StageTimer,
    Worked,
)

LARGEST = 2**31 - 1
_OWN = (jobs.c.id, jobs.c.number, jobs.c.reference)
_OF_QUOTE = (quotes.c.id, quotes.c.number)


class JobRepository:
    """The jobs of one transaction."""

    def __init__(self, connection: Connection) -> None:
        self._connection = connection

    def next_numbers(self, year: int, how_many: int) -> int:
        """The first of so many free numbers of a year, counted from 1."""
        first = count_up(self._connection, numbers.c.last, {"year": year})
        if how_many > 1:
            more = update(numbers).where(numbers.c.year == year)
            more = more.values(last=numbers.c.last + how_many - 1)
            self._connection.execute(more)
        return first

    def add(self, new: Sequence[Job]) -> tuple[Job, ...]:
        """The jobs with the ``seq`` they were given; they rise.

        Raises:
            Conflict: a quote has its job already, or a reference is in use.
        """
        if not new:
            return ()
        self._refuse_second(new)
        added = insert(jobs).returning(jobs.c.seq, sort_by_parameter_order=True)
        rows = [job_values(each) for each in new]
        seqs = self._connection.execute(added, rows).scalars()
        return tuple(replace(x, seq=seq) for x, seq in zip(new, seqs, strict=True))

    def get(self, job_id: str, *, locked: bool = False) -> Job | None:
        """The job of this id; ``locked`` keeps other changes of it waiting."""
        query = select(jobs).where(jobs.c.id == job_id)
        if locked:  # of what hangs on it, two would be added under one number
            query = query.with_for_update()
        found = self._connection.execute(query).one_or_none()
        return None if found is None else job(found)

    def find(self, names: Collection[str]) -> Mapping[str, tuple[Job, ...]]:
        """Jobs by what people call them: id, number, reference, quote's name."""
        found: dict[str, dict[int, Job]] = {}
        of_quotes = select(jobs, quotes.c.id, quotes.c.number).join(quotes)
        for part in in_parts(sorted(set(names))):
            # Apart, since neither database looks into two indexes of two tables.
            for query, called in ((select(jobs), _OWN), (of_quotes, _OF_QUOTE)):
                wanted = or_(*(each.in_(part) for each in called))
                for row in self._connection.execute(query.where(wanted)):
                    one = job(row)
                    own = one.id, one.number, one.reference
                    for name in {*own, *row[len(jobs.c) :]}.intersection(part):
                        found.setdefault(name, {})[one.seq] = one
        return {name: tuple(several.values()) for name, several in found.items()}

    def page(
        self, wanted: JobFilter, *, limit: int, past: int | None, newer: bool = False
    ) -> tuple[Job, ...]:
        """At most ``limit`` jobs, newest first, that lie past a ``seq``."""
        query = select(jobs).where(*_conditions(wanted))
        query = page_of(query, jobs.c.seq, limit=limit, past=past, newer=newer)
        return tuple(job(row) for row in self._connection.execute(query))

    def log(self, jobs: Collection[Job]) -> Mapping[int, JobLog]:
        """What was written down for each, by ``seq``; attempts in their order."""
        return job_logs.logs_of(self._connection, jobs)

    def change(self, new: Job, *, expected: int) -> bool:
        """Whether the job was at ``expected`` and is now as ``new``, a version on."""
        if not 1 <= expected < LARGEST:
            return False
        here = jobs.c.seq == new.seq, jobs.c.version == expected
        values = {**standing_values(new), "version": expected + 1}
        change = update(jobs).where(*here).values(values).returning(jobs.c.seq)
        return bool(self._connection.execute(change).all())

    def change_all(self, new: Sequence[Job]) -> None:
        """Change many, each at its ``version``. Raises Conflict where one is not."""
        if not new:
            return
        versions = {each.seq: each.version for each in new}
        for part in in_parts(versions):
            query = select(jobs.c.seq, jobs.c.number, jobs.c.version)
            for row in self._connection.execute(query.where(jobs.c.seq.in_(part))):
                if row.version != versions[row.seq]:
                    raise Conflict(
                        f"{row.number} was changed meanwhile; send the file again"
                    )
        rows = [
            {**standing_values(x), "version": x.version + 1, "b_seq": x.seq}
            for x in new
        ]
        here = jobs.c.seq == bindparam("b_seq")
        self._connection.execute(update(jobs).where(here), rows)

    def add_attempts(self, new: Sequence[tuple[int, LoggedAttempt]]) -> None:
        """Write attempts down, each with the ``seq`` of its job and its number."""
        job_logs.add_attempts(self._connection, new)

    def replace_attempt(self, job: int, attempt: LoggedAttempt) -> bool:
        """Whether the job has an attempt of this number, and it is this now."""
        return job_logs.replace_attempt(self._connection, job, attempt)

    def remove_attempt(self, job: int, n: int) -> bool:
        """Whether there was such an attempt."""
        return job_logs.remove_attempt(self._connection, job, n)

    def set_coins(self, coins: Mapping[int, Sequence[LoggedCoins]]) -> None:
        """Write the coins of jobs down, by ``seq``, in place of those before."""
        job_logs.set_coins(self._connection, coins)

    def start_timer(self, job: int, timer: StageTimer) -> bool:
        """Whether no timer ran for the job, and this one does now."""
        return job_logs.start_timer(self._connection, job, timer)

    def stop_timer(self, job: int, *, started_at: datetime) -> bool:
        """Whether the timer that started then was running, and is gone."""
        return job_logs.stop_timer(self._connection, job, started_at=started_at)

    def set_results(self, worked: Sequence[Worked]) -> None:
        """Write the lines and stages of results, in place of those before."""
        for table in (job_stages, job_lines):
            job_logs.clear(self._connection, table, [x.job.seq for x in worked])
        rows = [result_rows(each) for each in worked]
        for place, table in enumerate((job_lines, job_stages)):
            found = list(chain.from_iterable(each[place] for each in rows))
            if found:
                self._connection.execute(insert(table), found)

    def clear_results(self, job: int) -> None:
        """Remove the lines and stages of a job that is open again."""
        for table in (job_stages, job_lines):
            job_logs.clear(self._connection, table, [job])

    def results(self, job: int) -> tuple[tuple[JobLine, ...], tuple[JobStage, ...]]:
        """The lines and stages of a completed job, in their order."""
        lines = select(job_lines).where(job_lines.c.job == job)
        lines = lines.order_by(job_lines.c.line)
        stages = select(job_stages).where(job_stages.c.job == job)
        stages = stages.order_by(job_stages.c.line, job_stages.c.stage)
        return (
            tuple(job_line(row) for row in self._connection.execute(lines)),
            tuple(job_stage(row) for row in self._connection.execute(stages)),
        )

    def _refuse_second(self, new: Sequence[Job]) -> None:
        taken: dict[str | None, str] = {}
        for column in (jobs.c.quote_id, jobs.c.reference):
            asked = {getattr(each, column.name) for each in new} - {None}
            for part in in_parts(asked):
                query = select(column, jobs.c.number).where(column.in_(part))
                taken |= {row[0]: row[1] for row in self._connection.execute(query)}
        for each in new:
            number = taken.get(each.quote_id) or taken.get(each.reference)
            if number is not None:
                raise Conflict(f"that is job {number} already; go on with that one")


def _conditions(wanted: JobFilter) -> list[ColumnElement[bool]]:
    names = ("status", "week", "quote_id", "sku")
    asked = {name: getattr(wanted, name) for name in names}
    found = [
        jobs.c[name] == value for name, value in asked.items() if value is not None
    ]
    if wanted.text:
        found.append(jobs.c.search.contains(folded(wanted.text), autoescape=True))
    return found
