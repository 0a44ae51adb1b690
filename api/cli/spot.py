"""`fineweight spot`: the price of silver that estimates use."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

import click

from api.cli.context import Desk, with_desk
from api.cli.exit_codes import ExitCode
from api.cli.output import note
from api.cli.spot_words import SILVER, history, price, result, standing, thing
from api.cli.written import WRITTEN
from api.ports import SPOT_STATUSES, FetchResult, SpotEntry, SpotUnavailable
from pricing.money import exact_decimal

USUAL_HISTORY = 20

_METAL = click.option(
    "--metal",
    default=SILVER,
    show_default=True,
    metavar="CODE",
    help="XAG, or a currency's code for a rate of exchange.",
)


@click.group()
def spot() -> None:
    """Enter, fetch and show the price of silver."""


@spot.command("set")
@click.argument("amount", metavar="PRICE")
@_METAL
@click.option("--currency", metavar="CODE", help="Else the price book's.")
@click.option("--note", "remark", default="", help="Where the price is from.")
@click.option(
    "--expires",
    type=click.DateTime(["%Y-%m-%dT%H:%M:%S%z", "%Y-%m-%dT%H:%M%z"]),
    metavar="TIME",
    help="It goes before fetched ones until then: 2026-12-24T18:00+01:00.",
)
@with_desk
def set_spot(desk: Desk, amount: str, metal: str, **more: Any) -> None:
    """Enter the PRICE of one troy ounce of silver.

    With --metal EUR it is the price of one euro in another --currency.
    """
    entered = desk.services.spot_prices.enter(
        metal,
        exact_decimal(amount, path=("price",)),
        more["currency"] or desk.services.price_books.current().currency.code,
        note=more["remark"],
        expires_at=more["expires"],
    )
    desk.show_as(
        "spot_prices:SpotPriceDocument",
        entered,
        lambda: f"{thing(metal)} is {price(entered)} from now on.",
    )


@spot.command("show")
@_METAL
@click.option(
    "--history",
    "count",
    type=click.IntRange(1, 100),
    metavar="N",
    help="The last N entries.",
)
@click.option(
    "--status", type=click.Choice(SPOT_STATUSES), help="Only such entries of them."
)
@with_desk
def show_spot(desk: Desk, metal: str, count: int | None, status: str | None) -> None:
    """Show the price that estimates use now, and how old it is.

    Ends with code 4 if it is too old to price with.
    """
    if count or status:
        _show_history(desk, metal, limit=count or USUAL_HISTORY, status=status)
        return
    found = desk.services.standings.of(metal)
    desk.show_as("spot_prices:CurrentSpotDocument", found, lambda: standing(found))
    if found.staleness == "stale":
        raise click.exceptions.Exit(ExitCode.SPOT_STALE)


def _show_history(desk: Desk, metal: str, *, limit: int, status: str | None) -> None:
    entries = desk.services.spot_prices.history(metal, limit=limit, status=status)
    if not entries:
        note(
            f"There is no {status} price."
            if status
            else "No price has been recorded yet; begin with: fineweight spot set 27.50"
        )
    desk.show_as(
        "spot_prices:SpotHistoryDocument",
        {"spot_prices": entries},
        lambda: history(entries),
    )


@spot.command()
@click.argument("feed", type=WRITTEN, required=False)
@with_desk
def fetch(desk: Desk, feed: str | None) -> None:
    """Ask FEED for its price, or every feed that is switched on.

    Ends with code 4 if nothing could be fetched or what is in force is too old to
    price with, else with 3 if a price is held for you to decide.
    """
    results = desk.services.spot_prices.fetch(feed)
    if not results:
        note("No feed is set up and switched on; see: fineweight feeds load --help")
    desk.show_as(
        "spot_prices:FetchDocument",
        {"results": results},
        lambda: "\n".join(map(result, results)),
    )
    end_as(results, stale=_tell_in_force(desk, results))


def end_as(results: Iterable[FetchResult], *, stale: bool = False) -> None:
    """End with the code that the outcomes of a fetch ask for, if any does."""
    outcomes = {each.outcome for each in results}
    if stale or not outcomes - {"failed", "refused"}:
        raise click.exceptions.Exit(ExitCode.SPOT_STALE)
    if "held" in outcomes:
        raise click.exceptions.Exit(ExitCode.FOUND)


def _tell_in_force(desk: Desk, results: Iterable[FetchResult]) -> bool:
    """Say what is in force of each thing asked for; whether any of it is stale."""
    feeds = desk.services.feeds.known()
    asked = {feeds[each.feed].metal for each in results if each.feed in feeds}
    stale = {metal for metal in sorted(asked) if _is_stale(desk, metal)}
    return bool(stale)


def _is_stale(desk: Desk, metal: str) -> bool:
    try:
        found = desk.services.standings.of(metal)
    except SpotUnavailable as error:
        note(error.message)
        return True
    note(f"\nIn force now:\n{standing(found)}")
    return found.staleness == "stale"


@spot.command()
@click.argument("entry_id", metavar="ID", type=click.IntRange(min=1))
@with_desk
def accept(desk: Desk, entry_id: int) -> None:
    """Let the held price with this ID count."""
    entry = desk.services.spot_prices.accept(entry_id)
    _decided(desk, entry, "counts from now on")


@spot.command()
@click.argument("entry_id", metavar="ID", type=click.IntRange(min=1))
@with_desk
def reject(desk: Desk, entry_id: int) -> None:
    """Put the held price with this ID aside for good."""
    entry = desk.services.spot_prices.reject(entry_id)
    _decided(desk, entry, "is put aside")


def _decided(desk: Desk, entry: SpotEntry, what: str) -> None:
    desk.show_as(
        "spot_prices:SpotPriceDocument",
        entry,
        lambda: f"Entry {entry.id}, {price(entry)}, {what}.",
    )
