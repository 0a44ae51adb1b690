"""Files carried out: what changes, what does not, and every row that stands against."""

from __future__ import annotations

from decimal import Decimal

import pytest

from api.ports import NotFound, StaleSpot
from api.services.actor import Actor, acting
from api.services.csv_table import CsvForm, RowsRefused
from api.services.snapshots import Snapshots
from tests.services.promising import BOOK, Promises
from tests.services.selling import HEADER, Seller, band, csv_file, row


@pytest.fixture
def seller(promises):
    return Seller(promises)


def refused(seller, data, form=None):
    before = seller.export(), seller.rev(), seller.noted()
    with pytest.raises(RowsRefused) as error:
        seller.listings.import_csv(data, form or CsvForm())
    assert (seller.export(), seller.rev(), seller.noted()) == before
    return [fault[:2] for fault in error.value.rows]


def test_a_file_adds_listings_with_their_prices(seller):
    data = csv_file(row(size_to="7"), row(size_from="8", price=""), row("two"))
    with acting(Actor(by="Ada")):
        report = seller.listings.import_csv(data)
    assert (report.rows, report.count("added"), report.unchanged) == (3, 2, 0)
    assert report.bands() == {"added": 3, "changed": 0, "removed": 0}
    assert [change.row for change in report.changes] == [2, 4]
    computed = report.changes[0].bands[1].new
    assert seller.prices() == [("5", "7", "189.95"), ("8", "9.5", str(computed))]
    listing = seller.listings.get("two")
    assert (listing.changed_by, listing.changed_rev) == ("Ada", seller.rev())
    moves = seller.listings.history("ring-1", limit=10).moves
    assert [(move.why, move.by) for move in moves] == [("imported", "Ada")] * 2


def test_the_same_file_again_changes_nothing_at_all(seller):
    data = csv_file(row(size_to="7"), row(size_from="8", price=""), row("two"))
    seller.listings.import_csv(data)
    seller.promises.spots.enter("XAG", Decimal(60), "EUR")
    before = seller.rev(), seller.noted(), seller.listings.get("two")
    report = seller.listings.import_csv(data)
    assert (report.unchanged, report.changes, report.dry_run) == (2, (), False)
    assert (seller.rev(), seller.noted(), seller.listings.get("two")) == before
    assert len(seller.listings.history("ring-1", limit=10).moves) == 2


def test_what_a_file_does_not_name_stays(seller):
    seller.create(band("5", "6", "10"), band("7", "8", "20"))
    seller.create(sku="other")
    report = seller.listings.import_csv(csv_file("ring-1,7,8,25", header="sku,from,to,price"))  # fmt: skip  # noqa: E501
    assert (report.count("changed"), report.unchanged) == (1, 0)
    assert seller.prices() == [("5", "6", "10.00"), ("7", "8", "25.00")]
    assert seller.prices("other") == [("5", "9.5", "189.95")]


def test_a_band_takes_the_place_of_those_it_overlaps(seller):
    seller.create(band("5", "6", "10"), band("7", "8", "20"), band("9", "9.5", "30"))
    report = seller.listings.import_csv(csv_file(row(size_from="6", size_to="7.25")))
    assert report.bands() == {"added": 1, "changed": 0, "removed": 2}
    assert seller.prices() == [("6", "7.25", "189.95"), ("9", "9.5", "30.00")]


def test_everything_changed_is_told_and_noted(seller):
    seller.create(band(price="10"))
    rev = seller.rev()
    data = csv_file(row(price="12", title="New", published="true"), row("two"))
    report = seller.listings.import_csv(data)
    changed, added = report.changes
    assert set(changed.members) == {"title", "published"}
    assert [(x.old, x.new) for x in changed.bands] == [(10, 12)]
    assert (added.change, added.members) == ("added", ())
    assert seller.rev() == rev + 1
    action, subject, before, after = seller.noted()[-1]
    assert (action, subject, before) == ("listing.imported", str(rev + 1), None)
    assert after == {
        "rows": 2,
        "added": 1,
        "changed": 1,
        "unchanged": 0,
        "bands": {"added": 1, "changed": 1, "removed": 0},
    }


def test_a_dry_run_says_the_same_and_writes_nothing(seller):
    seller.create(band(price="10"))
    before = seller.export(), seller.rev(), seller.noted()
    data = csv_file(row(price="12"), row("two", price=""))
    dry = seller.listings.import_csv(data, dry_run=True)
    assert dry.dry_run
    assert (seller.export(), seller.rev(), seller.noted()) == before
    wet = seller.listings.import_csv(data)
    assert dry.document() == wet.document() | {"dry_run": True}


FAULTS = {
    "a cell that cannot be read": ([row(), row("b", price="x")], [(3, "price")]),
    "a coin that is not there": (
        [row(), row("b", coin="x"), row("b", "10", "11", coin="x")],
        [(3, "coin")],
    ),
    "an extra that is not there": ([row(extras="box x")], [(2, "extras")]),
    "bands that overlap": (
        [row(size_from="8", size_to="10"), row()],
        [(2, "from")],
    ),
    "a size between quarters": ([row(), row("b", "5.1")], [(3, "from")]),
    "a price of half a cent": ([row(price="0.005")], [(2, "price")]),
    "a size that cannot be made": (
        [row("b"), row("b", "0", "0.25", "")],
        [(3, "price")],
    ),
    "rows that say different things": (
        [row(), row(size_from="10", size_to="11", title="Other")],
        [(3, "title")],
    ),
    "a name of an address": ([row("export")], [(2, "sku")]),
    "several": (
        [row("a", kind="x", policy="x"), row("b", policy="x"), row("c")],
        [(2, "kind"), (3, "policy")],
    ),
}


@pytest.mark.parametrize(("rows", "where"), FAULTS.values(), ids=FAULTS)
def test_every_fault_is_named_and_nothing_is_changed(seller, rows, where):
    assert refused(seller, csv_file(*rows)) == where


def test_a_new_listing_needs_columns_that_an_old_one_does_not(seller):
    seller.create()
    where = refused(seller, csv_file("ring-1,5,9.5", "new,5,6", header="sku,from,to"))
    assert where == [(3, "")] * 5


def test_a_price_cell_that_is_not_there_is_told_without_a_column(seller):
    header = HEADER.removesuffix(",price")
    line = row(size_from="0", size_to="0.25").rpartition(",")[0]
    assert refused(seller, csv_file(line, header=header)) == [(2, "")]


def test_of_5000_rows_each_of_37_bad_ones_is_named(seller):
    rows = [row(f"sku-{n}", title=f"Ring {n}") for n in range(5000)]
    bad = range(17, 5000, 137)
    for n in bad:
        rows[n] = row(f"sku-{n}", policy="nothing")
    assert len(bad) == 37
    assert refused(seller, csv_file(*rows)) == [(n + 2, "policy") for n in bad]


@pytest.mark.slow
def test_5000_rows_are_taken_and_no_more(seller):
    rows = [row(f"sku-{n}") for n in range(5000)]
    assert seller.listings.import_csv(csv_file(*rows)).count("added") == 5000
    assert refused(seller, csv_file(*rows, row("x"))) == [(5002, "")]
    report = seller.listings.import_csv(csv_file(*rows, row("x")), most_rows=None)
    assert (report.count("added"), report.unchanged) == (1, 5000)


def test_an_old_spot_refuses_a_file_that_needs_one(seller):
    seller.clock.advance(days=7)
    with pytest.raises(StaleSpot):
        seller.listings.import_csv(csv_file(row(price="")))
    assert seller.listings.import_csv(csv_file(row())).changes


def test_without_a_book_nothing_is_imported(storage, clock):
    with pytest.raises(NotFound, match="no price book"):
        Seller(Promises(storage, clock)).listings.import_csv(csv_file(row()))


def test_prices_are_worked_out_while_nobody_waits_to_write(seller, monkeypatch):
    writing, write = [], Snapshots.write

    def watched(snapshots, work, **more):
        writing.append(True)
        monkeypatch.setattr(seller.promises.spots, "quoted", None)
        return write(snapshots, work, **more)

    monkeypatch.setattr(Snapshots, "write", watched)
    assert seller.listings.import_csv(csv_file(row(price=""))).changes
    assert writing


def test_what_was_changed_meanwhile_is_compared_again(seller, monkeypatch):
    seller.create(band(price="10"))
    write = seller.snapshots.write

    def late(work, **more):
        monkeypatch.setattr(seller.snapshots, "write", write)
        seller.listings.import_csv(csv_file(row(price="12", title="Theirs")))
        return write(work, **more)

    monkeypatch.setattr(seller.snapshots, "write", late)
    report = seller.listings.import_csv(
        csv_file("ring-1,5,9.5,12", header="sku,from,to,price")
    )
    assert (report.changes, report.unchanged) == ((), 1)
    assert seller.listings.get("ring-1").title == "Theirs"
    assert [action for action, *_ in seller.noted()] == [
        "listing.added",
        "listing.imported",
    ]


def test_files_are_carried_out_alike_on_either_database(any_storage, clock):
    seller = Seller(Promises(any_storage, clock))
    seller.promises.books.replace(BOOK, expected=None)
    seller.promises.spots.enter("XAG", Decimal("27.53"), "EUR")
    rows = [row(f"sku-{n:04}", published="true") for n in range(700)]
    assert seller.listings.import_csv(csv_file(*rows)).count("added") == 700
    rows = [line.replace("189.95", "199.95") for line in rows]
    report = seller.listings.import_csv(csv_file(*rows, row("x", price="")))
    assert (report.count("changed"), report.count("added")) == (700, 1)
    assert seller.prices("sku-0699") == [("5", "9.5", "199.95")]
    text = seller.export()
    assert seller.listings.import_csv(text.encode()).unchanged == 701
    assert refused(seller, csv_file(row("y"), row("z", coin="x"))) == [(3, "coin")]
