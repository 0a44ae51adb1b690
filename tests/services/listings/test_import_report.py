"""What an import says it has changed."""

from __future__ import annotations

from decimal import Decimal

from api.services.listings.import_report import BandChange, ImportReport, ListingChange


def change(old, new):
    return BandChange(
        size_from=Decimal(5),
        size_to=Decimal(6),
        old=None if old is None else Decimal(old),
        new=None if new is None else Decimal(new),
    )


BANDS = change(None, 1), change(1, 2), change(2, 3), change(3, None)
REPORT = ImportReport(
    dry_run=True,
    rows=9,
    unchanged=4,
    changes=(
        ListingChange(sku="a", row=2, change="added", members=(), bands=BANDS[:1]),
        ListingChange(
            sku="b", row=3, change="changed", members=("title",), bands=BANDS[1:]
        ),
    ),
    ignored=("Notes",),
)


def test_it_counts_listings_and_bands():
    assert (REPORT.count("added"), REPORT.count("changed")) == (1, 1)
    assert REPORT.bands() == {"added": 1, "changed": 2, "removed": 1}


def test_it_is_written_down_whole():
    told = REPORT.document()
    added, changed = told.pop("changes")
    assert told == {
        "dry_run": True,
        "rows": 9,
        "added": 1,
        "changed": 1,
        "unchanged": 4,
        "bands": {"added": 1, "changed": 2, "removed": 1},
        "ignored": ("Notes",),
    }
    assert added == {
        "sku": "a",
        "row": 2,
        "change": "added",
        "members": (),
        "bands": [{"from": 5, "to": 6, "old": None, "new": 1}],
    }
    assert (changed["change"], changed["members"]) == ("changed", ("title",))
    assert [(x["old"], x["new"]) for x in changed["bands"]] == [
        (1, 2),
        (2, 3),
        (3, None),
    ]
