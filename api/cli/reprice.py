"""`fineweight reprice`: what becomes of the prices in the shop when silver moves.

A preview is stored and changes nothing. It is applied in one act, by a person or by
a program that somebody has told to, and can be taken back exactly.
"""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal
from typing import Any

import click

from api.cli.context import Desk, with_desk
from api.cli.exit_codes import ExitCode
from api.cli.output import note
from api.cli.page_options import newest
from api.cli.reprice_decisions import DOCUMENT, RUN_ID, apply, undo
from api.cli.reprice_options import Percent
from api.cli.reprice_words import not_moved, run_list, whole
from api.cli.wish_options import EXACT
from api.cli.written import WRITTEN
from api.ports import (
    REPRICING_STATUSES,
    BandDecision,
    BandFilter,
    Repricing,
    RepricingBand,
    StaleSpot,
)
from api.services.paging import MOST_ON_A_PAGE
from api.services.repricings.document import band_document, run_document
from pricing import money

USUAL_ROWS = 50
ASKED: tuple[BandDecision, ...] = ("raise", "lower", "review", "blocked")
"""Decisions that a person wants to see, in this order."""
WANTS_A_WORD = ("raise", "lower", "review")
_ROWS = click.option(
    "--limit",
    type=click.IntRange(0, MOST_ON_A_PAGE),
    default=USUAL_ROWS,
    show_default=True,
    metavar="N",
    help="List at most so many bands of each decision.",
)


@click.group()
def reprice() -> None:
    """Bring the prices of listings in line with silver: preview, apply, undo.

    \b
    Examples:
      fineweight reprice preview
      fineweight reprice preview --if-moved 2%
      fineweight reprice apply 5d41402abc4b2a76b9719d911017c592
      fineweight reprice undo 5d41402abc4b2a76b9719d911017c592
    """  # noqa: D301 - Click keeps the lines together at its own mark


@reprice.command()
@click.option(
    "--spot", type=EXACT, metavar="PRICE", help="In place of the price in force."
)
@click.option(
    "--sku",
    "skus",
    type=WRITTEN,
    multiple=True,
    help="Only this listing; may be given more than once.",
)
@click.option(
    "--if-moved",
    type=Percent(),
    metavar="PER-CENT",
    help="Only if silver has moved so far since the repricing applied last.",
)
@_ROWS
@with_desk
def preview(
    desk: Desk, *, spot: Decimal | None, skus: Sequence[str], **given: Any
) -> None:
    """Work out what becomes of every price, and store that; no price is changed.

    A preview can be applied for 30 days, if it is among the newest 20.

    \b
    For a timer: ends with 0 if there is nothing to do, 3 if a preview waits for a
    decision, 4 if the silver price is too old or missing. Where nothing has changed
    since the newest preview, that one is shown again.
      fineweight reprice preview --if-moved 2%

    \b
    Examples:
      fineweight reprice preview --spot 29.10
      fineweight reprice preview --sku R-17 --sku R-18 --json
    """  # noqa: D301 - Click keeps the lines together at its own mark
    least, moved = given["if_moved"], None
    if least is not None:
        moved = _moved(desk, spot)
        if moved is not None and abs(moved) < least:
            _show_nothing_to_do(desk, moved, least)
            return
    run = desk.services.repricings.preview(
        spot, tuple(skus) or None, anew=least is None
    )
    bands = _asked_bands(desk, run, given["limit"])
    _show_preview(desk, run, bands, moved)
    raise click.exceptions.Exit(_code(run))


@reprice.command()
@RUN_ID
@_ROWS
@with_desk
def show(desk: Desk, run_id: str, *, limit: int) -> None:
    """Show the repricing ID, as it was previewed, and what became of it.

    \b
    Examples:
      fineweight reprice show 5d41402abc4b2a76b9719d911017c592 --limit 100
    """  # noqa: D301 - Click keeps the lines together at its own mark
    run = desk.services.repricings.get(run_id)
    bands = _asked_bands(desk, run, limit)
    desk.show_as(DOCUMENT, run_document(run), lambda: whole(run, bands))


@reprice.command("list")
@click.option("--status", type=click.Choice(REPRICING_STATUSES), help="Only those.")
@newest()
@with_desk
def list_repricings(desk: Desk, *, limit: int, **chosen: Any) -> None:
    """List repricings, newest first.

    \b
    Examples:
      fineweight reprice list --status applied
    """  # noqa: D301 - Click keeps the lines together at its own mark
    page = desk.services.repricings.page(chosen["status"], limit=limit)
    told = {"repricings": [run_document(run) for run in page.runs]}
    document = "repricing_documents:RepricingPageDocument"
    desk.show_as(document, told, lambda: run_list(page.runs))
    if not page.runs:
        note("There is no such repricing; make one: fineweight reprice preview")
    if page.older:
        note("There are older ones; see more with --limit.")


def _show_nothing_to_do(desk: Desk, moved: Decimal, least: Decimal) -> None:
    told: dict[str, Any] = {"moved": _shown(moved), "repricing": None, "changes": []}
    desk.show(told, lambda: not_moved(moved, least))


def _moved(desk: Desk, spot: Decimal | None) -> Decimal | None:
    """How far silver has moved. Raises StaleSpot where that cannot be said."""
    if spot is None:
        standing = desk.services.standings.of()
        if standing.staleness == "stale":
            raise StaleSpot(" ".join(standing.said))
    return desk.services.repricings.moved_since_applied(spot)


def _shown(moved: Decimal | None) -> Decimal | None:
    """The share as it is told to programs."""
    return None if moved is None else money.half_up(moved, money.RATE_STEP)


def _asked_bands(desk: Desk, run: Repricing, limit: int) -> list[RepricingBand]:
    """What a person wants to see of a run."""
    if not limit:
        return []
    pages = (
        desk.services.repricings.bands(run, BandFilter(decision=each), limit=limit)
        for each in ASKED
    )
    return [band for page in pages for band in page.bands]


def _show_preview(
    desk: Desk, run: Repricing, bands: list[RepricingBand], moved: Decimal | None
) -> None:
    if not desk.as_json:
        desk.show(None, lambda: whole(run, bands))
        return
    changes = [band_document(band, run.currency) for band in bands]
    told = {"moved": _shown(moved), "repricing": run_document(run), "changes": changes}
    desk.show_as("repricing_documents:PreviewDocument", told, str)


def _code(run: Repricing) -> ExitCode:
    if run.spot == "null" and run.counts["blocked"]:
        note("There is no silver price; enter one: fineweight spot set 27.50")
        return ExitCode.SPOT_STALE
    waits = any(run.counts[decision] for decision in WANTS_A_WORD)
    return ExitCode.FOUND if waits else ExitCode.OK


for _command in (apply, undo):
    reprice.add_command(_command)
