"""`fineweight week`: whether the margin that was planned is the margin that came."""

from __future__ import annotations

from datetime import date, datetime
from typing import Any

import click

from api.cli.context import Desk, with_desk
from api.cli.exit_codes import ExitCode
from api.cli.week_accept import accept, proposals
from api.cli.week_options import NEWEST, WEEK, WINDOW, week_of
from api.cli.week_words import whole
from api.services.margin_checks.check import MarginCheck
from api.services.margin_checks.csv_file import csv_text
from api.services.margin_checks.document import check_document
from api.services.margin_checks.flags import headline
from api.services.margin_checks.margin_checks import JOBS_SHOWN, MOST_JOBS

DOCUMENT = "margin_check_documents:MarginCheckDocument"
_SHOW = "show"
_DAY = click.DateTime(["%Y-%m-%d"])


class _ShowsByDefault(click.Group):
    """A group whose command may be left out, so that a week can stand there."""

    def parse_args(self, ctx: click.Context, args: list[str]) -> list[str]:
        """The arguments, with ``show`` before them where no command is named."""
        if not args or args[0] not in {*self.commands, *ctx.help_option_names}:
            args = [_SHOW, *args]
        return super().parse_args(ctx, args)


@click.group(cls=_ShowsByDefault)
def week() -> None:
    """Check a week at the bench: planned against realised margin, and why.

    \b
    Without a command, the week it is; 'show' takes the options:
      fineweight week
      fineweight week 2026-W48 --json
      fineweight week proposals
      fineweight week accept stages.fold.minutes
    \b
    For a timer, on Monday morning: one line for a mail, and code 3 if something needs
    attention.
      fineweight week --last --line
    """  # noqa: D301 - Click keeps the lines together at its own mark


@week.command(_SHOW)
@WEEK
@NEWEST
@WINDOW
@click.option("--from", "first", type=_DAY, metavar="DAY", help="In place of a week.")
@click.option("--to", "last_day", type=_DAY, metavar="DAY", help="The last such day.")
@click.option("--csv", "as_csv", is_flag=True, help="Print a CSV file.")
@click.option("--line", is_flag=True, help="Print the first line alone.")
@click.option(
    "--jobs",
    "most_jobs",
    type=click.IntRange(0, MOST_JOBS),
    default=None,
    metavar="N",
    help=f"List at most so many jobs.  [default: {JOBS_SHOWN}; all with --csv]",
)
@with_desk
def show_week(desk: Desk, week_name: str | None, **given: Any) -> None:
    """Show the check of a WEEK such as 2026-W48, or of the week it is.

    The first line says it all. Ends with code 3 if a job is under its floor, or a
    stage differs from the price book by more than chance allows.

    \b
    Examples:
      fineweight week
      fineweight week --last --line
      fineweight week 2026-W48 --csv > week.csv
      fineweight week --from 2026-10-01 --to 2026-10-31
    """  # noqa: D301 - Click keeps the lines together at its own mark
    check = _check(desk, week_name, given)
    if given["line"]:
        desk.show({"headline": headline(check)}, lambda: headline(check))
    elif given["as_csv"]:
        click.echo(csv_text(check).encode(), nl=False)
    else:
        desk.show_as(DOCUMENT, check_document(check), lambda: whole(check))
    if check.attention:
        raise click.exceptions.Exit(ExitCode.FOUND)


def _check(desk: Desk, name: str | None, given: dict[str, Any]) -> MarginCheck:
    most = given["most_jobs"]
    if most is None:
        most = MOST_JOBS if given["as_csv"] else JOBS_SHOWN
    checks = desk.services.bench.margin_checks
    asked = {"window_weeks": given["window_weeks"], "most_jobs": most}
    first, last = _day(given["first"]), _day(given["last_day"])
    if (first is None) != (last is None):
        raise click.UsageError("give both --from and --to, or neither")
    if first is None or last is None:
        return checks.week(week_of(desk, name, before=given["before"]), **asked)
    if name or given["before"]:
        raise click.UsageError("give either a week, or --from and --to")
    return checks.days(first, last, **asked)


def _day(given: datetime | None) -> date | None:
    return None if given is None else given.date()


for _command in (proposals, accept):
    week.add_command(_command)
