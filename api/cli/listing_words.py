"""Listings, and what an import does to them, in words and tables."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal

from api.cli.output import counted, facts, instant, table
from api.ports import Listing, PriceMove
from api.services.listings.document import in_unit, in_unit_of
from api.services.listings.import_report import ImportReport, ListingChange
from pricing import money
from pricing.money import Currency


def listing_list(listings: Sequence[Listing], unit: Currency) -> str:
    """Listings, one line each; empty for none."""
    if not listings:
        return ""
    rows = [
        (
            each.sku,
            each.title,
            each.coin,
            ", ".join(_band_sizes(band.size_from, band.size_to) for band in each.bands),
            _prices(each, unit),
            _state(each),
        )
        for each in listings
    ]
    return table(("sku", "title", "coin", "sizes", unit.code, ""), rows, right="    r")


def whole(listing: Listing, moves: Sequence[PriceMove], unit: Currency) -> str:
    """All of a listing, and how its prices changed last."""
    listing = in_unit_of(listing, unit)
    told = facts(
        {
            listing.sku: listing.title,
            "kind": listing.kind.replace("_", " "),
            "coin": listing.coin,
            "sold in": listing.channel,
            "priced by": listing.policy,
            "extras": ", ".join(listing.extras),
            "has cost": listing.actual_cost,
            "state": _state(listing),
            "changed": f"{instant(listing.changed_at)} {listing.changed_by}",
        }
    )
    bands = [
        (_band_sizes(band.size_from, band.size_to), band.price)
        for band in listing.bands
    ]
    headings = ("when", "sizes", "old", "new", "why", "by")
    return "\n\n".join(
        (
            told,
            table(("sizes", unit.code), bands, right=" r"),
            table(headings, [_move(each, unit) for each in moves], right="  rr"),
        )
    )


def _move(move: PriceMove, unit: Currency) -> tuple[object, ...]:
    return (
        instant(move.at),
        _band_sizes(move.size_from, move.size_to),
        None if move.old is None else in_unit(move.old, unit),
        None if move.new is None else in_unit(move.new, unit),
        move.why,
        move.by,
    )


def change_list(changes: Sequence[ListingChange]) -> str:
    """What an import changes, a line for each band and for all else of a listing."""
    rows: list[tuple[object, ...]] = []
    for each in changes:
        if each.members:
            said = ", ".join(each.members)
            rows.append((each.row, each.sku, "", None, None, f"changed: {said}"))
        for band in each.bands:
            sizes = _band_sizes(band.size_from, band.size_to)
            what = "removed" if band.new is None else "new" if band.old is None else ""
            rows.append((each.row, each.sku, sizes, band.old, band.new, what))
    headings = ("row", "sku", "sizes", "old", "new", "")
    return table(headings, rows, right="r  rr") if rows else ""


def report_words(report: ImportReport) -> str:
    """How much an import changes, in a sentence or two."""
    added, changed = report.count("added"), report.count("changed")
    would = "would be " if report.dry_run else ""
    said = (
        f"{counted(report.rows, 'row', 'rows')}: "
        f"{counted(added, 'listing', 'listings')} {would}added, "
        f"{changed} {would}changed, "
        f"{report.unchanged} unchanged."
    )
    if report.ignored:
        said += f" Columns that mean nothing here: {', '.join(report.ignored)}."
    return said


def _band_sizes(size_from: Decimal, size_to: Decimal) -> str:
    low, high = money.trimmed(size_from), money.trimmed(size_to)
    return low if low == high else f"{low} to {high}"


def _prices(listing: Listing, unit: Currency) -> str:
    prices = [in_unit(band.price, unit) for band in listing.bands]
    low, high = min(prices), max(prices)
    return f"{low:f}" if low == high else f"{low:f} to {high:f}"


def _state(listing: Listing) -> str:
    shown = "published" if listing.published else "not published"
    return f"{shown}, locked" if listing.locked else shown
