"""`fineweight log import` and `export`: the bench log from a spreadsheet, and back."""

from __future__ import annotations

from functools import partial
from typing import Any

import click

from api.cli.context import Desk, with_desk
from api.cli.csv_options import exported, imported, reads_file, writes_file
from api.cli.log_words import change_list, report_words
from api.cli.output import note
from api.cli.written import WRITTEN
from api.ports.jobs import JobFilter
from api.services.jobs.rows import COLUMNS, STAGED
from pricing.iso_week import IsoWeek


def _known(name: str) -> bool:
    return name in COLUMNS or bool(STAGED.fullmatch(name))


@click.command("import")
@reads_file(
    _known,
    like="minutes:fold=Falten",
    ours=f"{', '.join(COLUMNS)}, minutes:STAGE and visits:STAGE",
)
@with_desk
def import_log(desk: Desk, **given: Any) -> None:
    """Write down what a CSV FILE says of jobs; - is standard input.

    One row is an attempt, or what is so of the whole job, or both. A job that is not
    there is opened for the quote of that number, or for the sku and size beside it;
    one with a completed_at is completed. If anything is wrong, every row at fault is
    named and nothing is written. The same file again changes nothing.

    \b
    Examples:
      fineweight log import week.csv --dry-run
      fineweight log import woche.csv --delimiter ";" --decimal "," \\
        --map job=Auftrag --map minutes:fold=Falten
    """  # noqa: D301 - Click keeps the lines together at its own mark
    report = imported(desk.services.bench.files.import_csv, **given)
    desk.show_as(
        "job_files:LogImportDocument",
        report.document(),
        lambda: change_list(report.changes),
    )
    note(report_words(report))


@click.command("export")
@click.option("--week", type=WRITTEN, metavar="WEEK", help="Only completed in it.")
@writes_file
@with_desk
def export_log(desk: Desk, *, week: str | None, **given: Any) -> None:
    """Write jobs to a CSV FILE that an import reads back, or to standard output.

    \b
    Examples:
      fineweight log export --week 2026-W48 week.csv
      fineweight log export --delimiter ";" --decimal "," > werkstatt.csv
    """  # noqa: D301 - Click keeps the lines together at its own mark
    wanted = JobFilter(week=None if week is None else str(IsoWeek.parse(week)))
    export = partial(desk.services.bench.files.export_csv, wanted=wanted)
    exported(desk, export, ("job", "jobs"), **given)
