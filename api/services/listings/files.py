"""Listings as files: read in one act, and written."""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Callable
from dataclasses import replace

from api.ports import Clock, Listing, NotFound, UnitOfWork
from api.services.csv_table import PLAIN, CsvForm, read_table, written
from api.services.listings.document import in_unit_of
from api.services.listings.file_import import listing_file, planned, write
from api.services.listings.import_report import ImportReport
from api.services.listings.making import ListingMaking
from api.services.listings.rows import COLUMNS, NEEDED, rows_of
from api.services.snapshots import Snapshots
from pricing.money import Currency

MOST_ROWS = 5000
"""Most rows of a file that is sent over HTTP [count]."""


class ListingFiles(ABC):
    """Reads listings from files and writes them."""

    def __init__(self, snapshots: Snapshots, clock: Clock) -> None:
        self._snapshots = snapshots
        self._clock = clock

    @abstractmethod
    def making(self) -> ListingMaking:
        """Checks and prices by what is in force. Raises NotFound without a book."""

    @abstractmethod
    def currency(self) -> Currency:
        """What prices are in. Raises NotFound without a book."""

    def import_csv(
        self,
        data: bytes,
        form: CsvForm = PLAIN,
        *,
        dry_run: bool = False,
        most_rows: int | None = MOST_ROWS,
    ) -> ImportReport:
        """Add and change listings as a file says, all of it or nothing.

        Listings and bands that the file does not name stay as they are; a band of the
        file takes the place of those it overlaps. The same file again changes nothing.

        Args:
            data: the file; one row a band.
            form: how it is written.
            dry_run: only say what would change.
            most_rows: how many rows it may have [count]; None for any number.

        Raises:
            NotFound: there is no price book yet.
            RowsRefused: with every row at fault; nothing was changed.
            InvalidInput: the form names a column that is not known.
            SpotUnavailable, StaleSpot: as for a single listing.
        """
        table = read_table(
            data, form, known=COLUMNS, needed=NEEDED, most_rows=most_rows
        )
        file = listing_file(table, form.decimal)

        def carry_out(unit: UnitOfWork) -> ImportReport:
            plan = planned(file, unit, making, at=at)
            write(plan, unit, at=at)
            return plan.report

        with self._snapshots.held():
            making, at = self.making(), self._clock.now()
            # All prices are worked out here, and not while others wait to write.
            plan = self._snapshots.storage.read(
                lambda unit: planned(file, unit, making, at=at)
            )
            if dry_run or not plan.report.changes:
                return replace(plan.report, dry_run=dry_run)
            return self._snapshots.write(carry_out)

    def export_csv(self, put: Callable[[str], object], form: CsvForm = PLAIN) -> int:
        """Write all listings as a file, by sku, a row a band; how many [count].

        Amounts have the decimals of the book's currency.

        Args:
            put: takes the file piece by piece.
            form: how it is to be written; its headings are our names.
        """
        shown = self._as_shown()

        def export(unit: UnitOfWork) -> int:
            costs = any(each.actual_cost is not None for each in unit.listings.each())
            columns = COLUMNS if costs else COLUMNS[:-1]
            put(written(columns, form.delimiter))
            count = 0
            for count, listing in enumerate(unit.listings.each(), 1):  # noqa: B007
                for row in rows_of(shown(listing), columns, form.decimal):
                    put(written(row, form.delimiter))
            return count

        return self._snapshots.storage.read(export)

    def _as_shown(self) -> Callable[[Listing], Listing]:
        """Writes amounts of a listing; there is none before the first book."""
        try:
            unit = self.currency()
        except NotFound:
            return _as_it_is
        return lambda listing: in_unit_of(listing, unit)


def _as_it_is(listing: Listing) -> Listing:
    return listing
