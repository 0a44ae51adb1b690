"""What an import of listings has changed, or would change."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from typing import Literal


@dataclass(frozen=True, slots=True, kw_only=True)
class BandChange:
    """What becomes of one band: its sizes [US size], prices before and after."""

    size_from: Decimal
    size_to: Decimal
    old: Decimal | None
    new: Decimal | None

    def document(self) -> dict[str, object]:
        """The change as it is written on the wire."""
        return {
            "from": self.size_from,
            "to": self.size_to,
            "old": self.old,
            "new": self.new,
        }


@dataclass(frozen=True, slots=True, kw_only=True)
class ListingChange:
    """What becomes of one listing.

    Attributes:
        row: the first of its rows.
        members: what else than bands changes; empty for one that is added.
        bands: those that change.
    """

    sku: str
    row: int
    change: Literal["added", "changed"]
    members: tuple[str, ...]
    bands: tuple[BandChange, ...]

    def document(self) -> dict[str, object]:
        """The change as it is written on the wire."""
        return {
            "sku": self.sku,
            "row": self.row,
            "change": self.change,
            "members": self.members,
            "bands": [band.document() for band in self.bands],
        }


@dataclass(frozen=True, slots=True, kw_only=True)
class ImportReport:
    """What an import changes, or would change.

    Attributes:
        dry_run: whether nothing was written.
        rows: of the file, blank ones and the header apart [count].
        unchanged: listings that the file says nothing new of [count].
        changes: every listing that is added or changed, as in the file.
        ignored: headings that mean nothing here.
    """

    dry_run: bool
    rows: int
    unchanged: int
    changes: tuple[ListingChange, ...]
    ignored: tuple[str, ...]

    def count(self, change: str) -> int:
        """How many listings are added or changed [count]."""
        return sum(each.change == change for each in self.changes)

    def bands(self) -> dict[str, int]:
        """How many bands are added, changed and removed [count]."""
        found = {"added": 0, "changed": 0, "removed": 0}
        for band in (band for each in self.changes for band in each.bands):
            gone = "removed" if band.new is None else "changed"
            found["added" if band.old is None else gone] += 1
        return found

    def document(self) -> dict[str, object]:
        """The report as it is written on the wire."""
        return {
            "dry_run": self.dry_run,
            "rows": self.rows,
            "added": self.count("added"),
            "changed": self.count("changed"),
            "unchanged": self.unchanged,
            "bands": self.bands(),
            "changes": [each.document() for each in self.changes],
            "ignored": self.ignored,
        }
