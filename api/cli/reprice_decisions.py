"""`fineweight reprice apply` and `undo`: new prices in force, or the old ones again."""

from __future__ import annotations

import sys
from collections.abc import Sequence

import click

from api.cli.context import Desk, with_desk
from api.cli.exit_codes import ExitCode
from api.cli.output import note
from api.cli.reprice_options import BandName
from api.cli.reprice_words import applied, overview, to_be_asked, undone
from api.cli.written import WRITTEN
from api.ports import Place, Repricing
from api.services.repricings.document import run_document

DOCUMENT = "repricing_documents:RepricingDocument"
RUN_ID = click.argument("run_id", metavar="ID", type=WRITTEN)


@click.command()
@RUN_ID
@click.option(
    "--include",
    type=BandName(),
    multiple=True,
    metavar="SKU:FROM",
    help="Change this band in review too; may be given more than once.",
)
@click.option("--yes", is_flag=True, help="Do not ask.")
@with_desk
def apply(desk: Desk, run_id: str, *, include: Sequence[Place], yes: bool) -> None:
    """Put the prices of the preview ID in force, all at once.

    Bands in review are changed only if they are named. One that was cut short goes
    on where it was. Ends with code 5 if a listing, the price book or a coin has
    changed since the preview; make a new one then.

    \b
    Examples:
      fineweight reprice apply 5d41402abc4b2a76b9719d911017c592
      fineweight reprice apply 5d41402abc4b2a76b9719d911017c592 --include R-17:5.5
    """  # noqa: D301 - Click keeps the lines together at its own mark
    run = desk.services.repricings.get(run_id)
    if not yes and run.status in {"preview", "applying"}:
        _ask(run, include)
    done = desk.services.repricings.apply(
        run.id, expected=run.version, include=tuple(include)
    )
    desk.show_as(DOCUMENT, run_document(done), lambda: applied(done))


@click.command()
@RUN_ID
@with_desk
def undo(desk: Desk, run_id: str) -> None:
    """Put the prices before the applied repricing ID in force again, exactly.

    Ends with code 5 if one of them has changed since; nothing is undone then.

    \b
    Examples:
      fineweight reprice undo 5d41402abc4b2a76b9719d911017c592
    """  # noqa: D301 - Click keeps the lines together at its own mark
    run = desk.services.repricings.get(run_id)
    done = desk.services.repricings.undo(run.id, expected=run.version)
    desk.show_as(DOCUMENT, run_document(done), lambda: undone(done))


def _at_terminal() -> bool:
    return sys.stdin.isatty()


def _ask(run: Repricing, include: Sequence[Place]) -> None:
    if not _at_terminal():
        raise click.UsageError(
            "nobody can be asked here and nothing was changed; give --yes to apply it"
        )
    note(overview(run))
    if not click.confirm(to_be_asked(run, len(include)), err=True):
        note("Nothing was changed.")
        raise click.exceptions.Exit(ExitCode.FAILED)
