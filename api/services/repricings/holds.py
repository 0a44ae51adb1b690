"""Whether a preview still holds: of the same listings, price book and coins."""

from __future__ import annotations

from api.ports import Repricing, UnitOfWork
from api.services.repricings.refusals import MOST_NAMED, Changed, Outdated, Overtaken


def refuse_unless_it_holds(unit: UnitOfWork, run: Repricing) -> None:
    """Refuse to apply a preview whose prices would be worked out otherwise now.

    A new price of silver does not count: it was seen in the preview, and is meant.

    Raises:
        Outdated: another price book is in force, or a coin was changed.
        Overtaken: with the listings that were changed.
    """
    _refuse_another_book(unit, run)
    _refuse_other_coins(unit, run)
    changed = unit.repricings.stands_against(run, limit=MOST_NAMED)
    if changed:
        raise Overtaken(
            "nothing was applied, since listings have changed after the preview and "
            "would lose that; make a new preview. Changed were",
            map(Changed, changed),
        )


def _refuse_another_book(unit: UnitOfWork, run: Repricing) -> None:
    newest = unit.books.newest()
    version = newest.about.version if newest else 0
    if version != run.book_version:
        raise Outdated(
            f"nothing was applied: the preview was worked out by version "
            f"{run.book_version} of the price book, and version {version} is in force "
            "now, by which prices and margins may differ; make a new preview"
        )


def _refuse_other_coins(unit: UnitOfWork, run: Repricing) -> None:
    # Which coin it was is not looked up: that is rare, and a new preview is cheap.
    if run.coins_rev not in {None, unit.revisions.all().coins}:
        raise Outdated(
            "nothing was applied: the workshop's coins were changed after the preview, "
            "so that prices and margins may differ now; make a new preview"
        )
