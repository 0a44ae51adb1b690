"""Which week is meant, and by how many its stages are judged."""

from __future__ import annotations

import click

from api.cli.context import Desk
from api.cli.written import WRITTEN
from api.services.margin_checks.spans import MOST_WEEKS_JUDGED, WEEKS_JUDGED
from pricing.iso_week import IsoWeek

WEEK = click.argument("week_name", metavar="[WEEK]", type=WRITTEN, required=False)
NEWEST = click.option("--last", "before", is_flag=True, help="The week before this.")
WINDOW = click.option(
    "--window-weeks",
    type=click.IntRange(1, MOST_WEEKS_JUDGED),
    default=WEEKS_JUDGED,
    show_default=True,
    metavar="N",
    help="Judge stages by so many weeks, up to this one.",
)


def week_of(desk: Desk, name: str | None, *, before: bool) -> IsoWeek:
    """The week of a name; without one, the week it is in the workshop.

    Raises:
        InvalidInput: the name is no ISO week.
        NotFound: no name, and no price book that says where the workshop is.
        UsageError: a name, and the week before this.
    """
    if name is not None:
        if before:
            raise click.UsageError("give either a week or --last")
        return IsoWeek.parse(name)
    this = desk.services.bench.margin_checks.this_week()
    return this.plus(-1) if before else this
