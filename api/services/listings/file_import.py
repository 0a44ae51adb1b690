"""What a file would change, and the change itself: all of it or nothing."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from decimal import Decimal

from api.ports import Listing, UnitOfWork
from api.services.audit import note
from api.services.csv_table import DecimalMark, RowFault, RowsRefused, Table
from api.services.hooks.events import tell_listings
from api.services.listings.document import in_unit_of
from api.services.listings.import_report import BandChange, ImportReport, ListingChange
from api.services.listings.making import ListingMaking, Made
from api.services.listings.rows import Draft, drafts_of
from pricing.money import Currency


@dataclass(frozen=True, slots=True, kw_only=True)
class ListingFile:
    """What a file says of listings, read."""

    table: Table
    drafts: tuple[Draft, ...]
    faults: tuple[RowFault, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """What is to be written."""

    added: tuple[Listing, ...]
    changed: tuple[Listing, ...]
    report: ImportReport
    before: tuple[Listing, ...] = ()
    """What is changed, as it was, in the order of ``changed``."""


def listing_file(table: Table, decimal: DecimalMark) -> ListingFile:
    """What a table says of listings."""
    drafts, faults = drafts_of(table, decimal)
    return ListingFile(table=table, drafts=tuple(drafts), faults=tuple(faults))


def planned(
    file: ListingFile, unit: UnitOfWork, making: ListingMaking, *, at: datetime
) -> Plan:
    """What a file changes, compared with what is stored.

    Raises:
        RowsRefused: with every row at fault.
        SpotUnavailable, StaleSpot: as `ListingMaking.made`.
    """
    there = unit.listings.find([draft.sku for draft in file.drafts])
    faults = list(file.faults)
    plans: list[tuple[Draft, Listing | None, Made]] = []
    for draft in file.drafts:
        old = there.get(draft.sku)
        if old is None and draft.missing():
            faults += _missing(draft)
            continue
        made = making.made(draft.ask(old), old, at=at)
        faults += _placed(made, draft, file.table.headings)
        plans.append((draft, old, made))
    if faults:
        raise RowsRefused(faults)
    return _plan(file, plans, making.book.currency)


def write(plan: Plan, unit: UnitOfWork, *, at: datetime) -> None:
    """Write a plan down, unless it changes nothing."""
    if not plan.report.changes:
        return
    rev = unit.revisions.bump("listings") or 0
    for listings, store in (
        (plan.added, unit.listings.add),
        (plan.changed, unit.listings.replace_all),
    ):
        if listings:
            store([replace(each, changed_rev=rev) for each in listings], why="imported")
    report = plan.report
    told = {
        "rows": report.rows,
        "added": report.count("added"),
        "changed": report.count("changed"),
        "unchanged": report.unchanged,
        "bands": report.bands(),
    }
    note(unit, at, "listing.imported", str(rev), after=told)
    changed = zip(plan.before, plan.changed, strict=True)
    tell_listings(unit, at, [*((None, new) for new in plan.added), *changed])


def _missing(draft: Draft) -> Iterator[RowFault]:
    for name in draft.missing():
        said = f"'{draft.sku[:64]}' is new, so the file has to have a column '{name}'"
        yield RowFault(draft.rows[0], "", said)


def _placed(
    made: Made, draft: Draft, headings: Mapping[str, str]
) -> Iterator[RowFault]:
    for error in made.errors:
        for fault in error.faults:
            yield draft.place(fault, headings)


def _plan(
    file: ListingFile,
    plans: Sequence[tuple[Draft, Listing | None, Made]],
    currency: Currency,
) -> Plan:
    added: list[Listing] = []
    changed: list[Listing] = []
    changes: list[ListingChange] = []
    for draft, old, made in plans:
        new = made.listing
        if new is None or not made.changed:
            continue
        (changed if old else added).append(new)
        changes.append(
            ListingChange(
                sku=draft.sku,
                row=draft.rows[0],
                change="changed" if old else "added",
                members=made.members,
                bands=tuple(_band_changes(new, old, currency)),
            )
        )
    report = ImportReport(
        dry_run=False,
        rows=len(file.table.rows),
        unchanged=len(plans) - len(changes),
        changes=tuple(changes),
        ignored=file.table.ignored,
    )
    named = {new.sku for new in changed}
    before = tuple(old for _, old, _ in plans if old and old.sku in named)
    return Plan(
        added=tuple(added), changed=tuple(changed), report=report, before=before
    )


def _band_changes(
    new: Listing, old: Listing | None, currency: Currency
) -> Iterator[BandChange]:
    before = _by_sizes(in_unit_of(old, currency)) if old else {}
    after = _by_sizes(in_unit_of(new, currency))
    for size_from, size_to in sorted({*before, *after}):
        sizes = size_from, size_to
        if before.get(sizes) != after.get(sizes):
            yield BandChange(
                size_from=size_from,
                size_to=size_to,
                old=before.get(sizes),
                new=after.get(sizes),
            )


def _by_sizes(listing: Listing) -> dict[tuple[Decimal, Decimal], Decimal]:
    return {(band.size_from, band.size_to): band.price for band in listing.bands}
