"""`fineweight log import` and `export`: the bench log from a spreadsheet, and back."""

from __future__ import annotations

from typing import Any

import click

from api.cli.context import Desk, with_desk
from api.cli.csv_options import as_written, csv_form
from api.cli.log_words import change_list, report_words
from api.cli.output import counted, note
from api.cli.whole_file import whole_file
from api.cli.written import WRITTEN
from api.ports.jobs import JobFilter
from api.services.jobs.rows import COLUMNS, STAGED
from pricing.iso_week import IsoWeek


def _columns(
    ctx: click.Context, param: click.Parameter, pairs: tuple[str, ...]
) -> dict[str, str]:
    """Our names of columns → their headings in the file."""
    found: dict[str, str] = {}
    for pair in pairs:
        name, mark, heading = pair.partition("=")
        known = name in COLUMNS or STAGED.fullmatch(name)
        if not mark or not known or not heading.strip() or name in found:
            raise click.BadParameter(
                f"'{pair}' is no pair such as minutes:fold=Falten, said once; ours are "
                f"{', '.join(COLUMNS)}, minutes:STAGE and visits:STAGE",
                ctx=ctx,
                param=param,
            )
        found[name] = heading.strip()
    return found


@click.command("import")
@click.argument("file", type=click.File("rb"))
@as_written
@click.option(
    "--map",
    "columns",
    multiple=True,
    metavar="OURS=THEIRS",
    callback=_columns,
    help="A column that has another heading in the file; may be repeated.",
)
@click.option("--dry-run", is_flag=True, help="Only say what would change.")
@with_desk
def import_log(
    desk: Desk, *, file: Any, dry_run: bool, columns: dict[str, str], **written: str
) -> None:
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
    report = desk.services.bench.files.import_csv(
        file.read(),
        csv_form(columns=columns, **written),
        dry_run=dry_run,
        most_rows=None,
    )
    desk.show_as(
        "job_files:LogImportDocument",
        report.document(),
        lambda: change_list(report.changes),
    )
    note(report_words(report))


@click.command("export")
@click.argument("file", type=click.Path(dir_okay=False, allow_dash=True), default="-")
@click.option("--week", type=WRITTEN, metavar="WEEK", help="Only completed in it.")
@as_written
@with_desk
def export_log(desk: Desk, *, file: str, week: str | None, **written: str) -> None:
    """Write jobs to a CSV FILE that an import reads back, or to standard output.

    \b
    Examples:
      fineweight log export --week 2026-W48 week.csv
      fineweight log export --delimiter ";" --decimal "," > werkstatt.csv
    """  # noqa: D301 - Click keeps the lines together at its own mark
    if desk.as_json and file == "-":
        raise click.UsageError("say a FILE beside --json; a CSV file is no JSON")
    wanted = JobFilter(week=None if week is None else str(IsoWeek.parse(week)))
    with whole_file(file) as opened:
        count = desk.services.bench.files.export_csv(
            lambda text: opened.write(text.encode()),
            csv_form(**written),
            wanted=wanted,
        )
    if desk.as_json:
        desk.show({"file": file, "jobs": count}, str)
    else:
        note(f"{counted(count, 'job', 'jobs')} written.")
