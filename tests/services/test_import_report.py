"""What an import says it has changed."""

from __future__ import annotations

from decimal import Decimal

from api.services.import_report import BandChange, ImportReport, ListingChange


def change(old, new):
    return BandChange(
        size_from=Decimal(5),
        size_to=Decimal(6),
        old=None if old is None else Decimal(old),
        new=None if new is None else Decimal(new),
    )


def test_it_counts_listings_and_bands_and_writes_them_down():
    bands = change(None, 1), change(1, 2), change(2, 3), change(3, None)
    report = ImportReport(
        dry_run=True,
        rows=9,
        unchanged=4,
        changes=(
            ListingChange(sku="a", row=2, change="added", members=(), bands=bands[:1]),
            ListingChange(
                sku="b", row=3, change="changed", members=("title",), bands=bands[1:]
            ),
        ),
        ignored=("Notes",),
    )
    assert report.document() == {
        "dry_run": True,
        "rows": 9,
        "added": 1,
        "changed": 1,
        "unchanged": 4,
        "bands": {"added": 1, "changed": 2, "removed": 1},
        "changes": [
            {
                "sku": "a",
                "row": 2,
                "change": "added",
                "members": (),
                "bands": [{"from": 5, "to": 6, "old": None, "new": 1}],
            },
            {
                "sku": "b",
                "row": 3,
                "change": "changed",
                "members": ("title",),
                "bands": [
                    {"from": 5, "to": 6, "old": 1, "new": 2},
                    {"from": 5, "to": 6, "old": 2, "new": 3},
                    {"from": 5, "to": 6, "old": 3, "new": None},
                ],
            },
        ],
        "ignored": ("Notes",),
    }
