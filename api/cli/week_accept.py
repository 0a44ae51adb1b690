"""`fineweight week proposals` and `accept`: what the bench teaches the price book."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import click

from api.cli.context import Desk, with_desk
from api.cli.output import note
from api.cli.week_options import NEWEST, WEEK, WINDOW, week_of
from api.cli.week_proposal_words import accepted_words, proposed_words
from api.cli.written import WRITTEN
from api.services.margin_checks.document import accepted_document, proposed_document


@click.command()
@WEEK
@NEWEST
@WINDOW
@with_desk
def proposals(desk: Desk, week_name: str | None, *, before: bool, **given: Any) -> None:
    """Show new standards that the bench proposes, and what they do to prices.

    \b
    Examples:
      fineweight week proposals
      fineweight week proposals 2026-W48 --window-weeks 26
    """  # noqa: D301 - Click keeps the lines together at its own mark
    week = week_of(desk, week_name, before=before)
    found = desk.services.bench.margin_checks.proposals(week, **given)
    document = "margin_check_documents:ProposalListDocument"
    desk.show_as(document, proposed_document(found), lambda: proposed_words(found))
    if not found.proposals:
        note("The bench proposes nothing yet; log some attempts with their minutes.")


@click.command()
@click.argument("paths", metavar="[PATH]...", type=WRITTEN, nargs=-1)
@click.option("--week", "week_name", metavar="WEEK", type=WRITTEN, help="Another week.")
@click.option("--all", "every", is_flag=True, help="Accept all that is proposed.")
@NEWEST
@WINDOW
@with_desk
def accept(
    desk: Desk, paths: Sequence[str], *, every: bool, before: bool, **given: Any
) -> None:
    """Put the proposals PATH... into a new version of the price book.

    \b
    Examples:
      fineweight week accept stages.fold.scrap stages.bore.minutes
      fineweight week accept --all --last
    """  # noqa: D301 - Click keeps the lines together at its own mark
    if every == bool(paths):
        raise click.UsageError("name what is to be accepted, or give --all")
    checks = desk.services.bench.margin_checks
    week = week_of(desk, given["week_name"], before=before)
    window = given["window_weeks"]
    found = checks.week(week, window_weeks=window, most_jobs=0)
    version = desk.services.price_books.current().version
    if every:
        paths = [each.dotted for each in found.proposals]
    done = checks.accept(week, paths, expected=version, window_weeks=window)
    document = "margin_check_documents:AcceptedDocument"
    desk.show_as(document, accepted_document(done), lambda: accepted_words(done))
