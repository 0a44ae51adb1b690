"""The bench log as files: a week from a spreadsheet in one act, and written."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import asdict, replace
from itertools import chain

from api.ports import Clock, Conflict, UnitOfWork
from api.ports.jobs import Job, JobFilter, JobLog, LoggedAttempt
from api.services.csv_cells import harmless, shown
from api.services.csv_table import (
    PLAIN,
    CsvForm,
    DecimalMark,
    headings_of,
    read_table,
    written,
)
from api.services.jobs.file_import import LogFile, LogPlan, planned, write
from api.services.jobs.import_report import LogReport
from api.services.jobs.merging import Ground
from api.services.jobs.opening import JobOpening
from api.services.jobs.rows import COLUMNS, NEEDED, OF_NEW, drafts_of, known_columns
from api.services.jobs.terms import read_money
from api.services.price_book import PriceBooks
from api.services.snapshots import Snapshots

MOST_ROWS = 10_000
"""Most rows of a file that is sent over HTTP [count]."""
TRIES = 3
"""How often a file is read against what is stored, before somebody else wins."""
_PART = 200


class JobFiles:
    """Reads bench logs from files and writes them."""

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

    def import_csv(
        self,
        data: bytes,
        form: CsvForm = PLAIN,
        *,
        dry_run: bool = False,
        most_rows: int | None = MOST_ROWS,
    ) -> LogReport:
        """Write down what a file says of jobs, all of it or nothing.

        A row is an attempt, coins that were taken, or what is so of the whole job. A
        row that is known already changes nothing, so a file may be sent again, and
        again with more rows; a job that is not there is opened for its quote or
        listing, and one with a ``completed_at`` is completed.

        Args:
            data: the file.
            form: how it is written.
            dry_run: only say what would change.
            most_rows: how many rows it may have [count]; None for any number.

        Raises:
            NotFound: there is no price book yet.
            RowsRefused: with every row at fault; nothing was changed.
            InvalidInput: the form names a column that is not known.
            Conflict: jobs of the file were changed again and again meanwhile.
            SpotUnavailable, StaleSpot: as for opening a job for a listing.
        """
        known = known_columns(headings_of(data, form), form)
        table = read_table(data, form, known=known, needed=NEEDED, most_rows=most_rows)
        drafts, faults = drafts_of(table, form.decimal)
        file = LogFile(table=table, drafts=tuple(drafts), faults=tuple(faults))
        for _ in range(TRIES - 1):
            try:
                return self._carried_out(file, dry_run=dry_run)
            except Conflict:
                if self._snapshots.joined:
                    raise
        return self._carried_out(file, dry_run=dry_run)

    def _carried_out(self, file: LogFile, *, dry_run: bool) -> LogReport:
        with self._snapshots.held():
            plan, ground = self._planned(file)
            if dry_run or not plan.report.changes:
                return replace(plan.report, dry_run=dry_run)
            # Worked out before, so that others wait for the writing alone.
            return self._snapshots.write(
                lambda unit: write(plan, unit, self._opening, ground)
            )

    def _planned(self, file: LogFile) -> tuple[LogPlan, Ground]:
        ground = Ground(
            book=self._books.current(),
            at=self._clock.now(),
            headings=file.table.headings,
        )
        plan = self._snapshots.read(
            lambda unit: planned(file, unit, self._opening, ground)
        )
        return plan, ground

    def export_csv(
        self,
        put: Callable[[str], object],
        form: CsvForm = PLAIN,
        *,
        wanted: JobFilter | None = None,
    ) -> int:
        """Write jobs as a file that an import reads back; how many [count].

        Newest first: of each job a row for what is so of it all, then its coins, then
        its attempts.

        Args:
            put: takes the file piece by piece.
            form: how it is to be written; its headings are our names.
            wanted: which jobs; None for all of them.
        """

        def export(unit: UnitOfWork) -> int:
            asked = wanted or JobFilter()
            stages = _stages(unit, asked)
            columns = [name for name in COLUMNS if name not in OF_NEW]
            columns += [f"{what}:{key}" for what, key in stages]
            put(written(columns, form.delimiter))
            count = 0
            for job, log in _each(unit, asked):
                count += 1
                for cells in _rows_of(job, log, form.decimal):
                    row = [cells.get(name, "") for name in columns]
                    put(written(row, form.delimiter))
            return count

        return self._snapshots.storage.read(export)


def _each(unit: UnitOfWork, wanted: JobFilter) -> Iterator[tuple[Job, JobLog]]:
    past = None
    while jobs := unit.jobs.page(wanted, limit=_PART, past=past):
        logs = unit.jobs.log(jobs)
        yield from ((job, logs[job.seq]) for job in jobs)
        past = jobs[-1].seq


def _stages(unit: UnitOfWork, wanted: JobFilter) -> Sequence[tuple[str, str]]:
    """The stages that attempts of some jobs tell of, minutes first."""
    found: dict[tuple[str, str], None] = {}
    for _, log in _each(unit, wanted):
        for attempt in log.attempts:
            found |= {("minutes", key): None for key in attempt.minutes}
            found |= {("visits", key): None for key in attempt.visits}
    return sorted(found, key=lambda each: each[0])


def _rows_of(
    job: Job, log: JobLog, decimal: DecimalMark
) -> Iterator[Mapping[str, str]]:
    name = {"job": harmless(job.number)}
    money = asdict(read_money(job.money))
    done = "" if job.completed_at is None else job.completed_at.isoformat()
    whole = {key: shown(figure, decimal) for key, figure in money.items()}
    yield {**name, **whole, "completed_at": done}
    for n, coins in enumerate(log.coins, 1):
        yield {
            **name,
            "attempt": f"#c{n}",
            "line": str(coins.line + 1),
            "coins": str(coins.count),
            "coin_cost": shown(coins.unit_cost, decimal),
        }
    ended = (each for each in log.attempts if each.outcome != "open")
    yield from ({**name, **_attempt(each, decimal)} for each in ended)


def _attempt(attempt: LoggedAttempt, decimal: DecimalMark) -> dict[str, str]:
    masses = ("slug_g", "bored_g", "finished_g")
    return dict(
        chain(
            {
                "attempt": f"#{attempt.n}",
                "line": str(attempt.line + 1),
                "outcome": attempt.outcome,
                "stage": attempt.stage or "",
                "note": harmless(attempt.note),
            }.items(),
            ((name, shown(getattr(attempt, name), decimal)) for name in masses),
            (
                (f"minutes:{key}", shown(figure, decimal))
                for key, figure in attempt.minutes.items()
            ),
            ((f"visits:{key}", str(many)) for key, many in attempt.visits.items()),
        )
    )
