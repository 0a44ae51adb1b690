"""Rows as listings: each cell read, and each fault with its row and column."""

from __future__ import annotations

from decimal import Decimal

import pytest

from api.services.csv_table import CsvForm, RowFault, read_table
from api.services.listings.rows import COLUMNS, NEEDED, Draft, drafts_of, rows_of
from pricing.errors import Fault
from tests.services.selling import HEADER, Seller, asked, band, csv_file, row


@pytest.fixture
def seller(promises):
    return Seller(promises)


def read(*rows, header=HEADER, **form):
    written = CsvForm(**form)
    data = csv_file(*rows, header=header)
    table = read_table(data, written, known=COLUMNS, needed=NEEDED, most_rows=None)
    return drafts_of(table, written.decimal)


def test_rows_of_one_sku_are_one_listing_wherever_they_stand():
    drafts, faults = read(
        row("b", "5", "6", "1"), row("a"), row("b", "7", "8", ""), row("B")
    )
    assert not faults
    assert [draft.sku for draft in drafts] == ["b", "a", "B"]
    assert drafts[0].rows == [2, 4]
    assert drafts[0].bands == [band("5", "6", "1"), band("7", "8", None)]


def test_every_cell_is_read_for_what_it_is():
    text = ("'=Ring", "'-x", "engraving  box", "YES", "0", "5,5")
    drafts, faults = read(
        f"{text[1]};{text[0]};ready_made;c;d;e;{text[2]};{text[3]};{text[4]};"
        f"{text[5]};6;1234,5;0,99",
        header=";".join(COLUMNS),
        delimiter=";",
        decimal=",",
    )
    assert not faults
    [draft] = drafts
    assert draft.ask(None) == asked(
        band("5.5", "6", "1234.5"),
        sku="-x",
        title="=Ring",
        kind="ready_made",
        coin="c",
        channel="d",
        policy="e",
        extras=("engraving", "box"),
        locked=True,
        published=False,
        actual_cost=Decimal("0.99"),
    )


def test_texts_are_told_apart_by_what_they_show():
    drafts, _ = read(row(title="Cafe\u0301"))
    assert drafts[0].said["title"] == "Caf\u00e9"


CELLS = {
    "no sku": ({"sku": ""}, "sku"),
    "no title": ({"title": ""}, "title"),
    "no coin": ({"coin": ""}, "coin"),
    "no truth": ({"locked": ""}, "locked"),
    "half a truth": ({"published": "maybe"}, "published"),
    "no size": ({"from": ""}, "from"),
    "a word for a size": ({"to": "large"}, "to"),
    "a decimal comma": ({"price": '"5,5"'}, "price"),
    "a thousands comma": ({"price": '"1,234.50"'}, "price"),
    "an exponent": ({"price": "1e3"}, "price"),
    "a plus": ({"price": "+5"}, "price"),
    "a currency": ({"price": "5 EUR"}, "price"),
    "full-width digits": ({"price": "\uff11"}, "price"),
    "an underscore": ({"price": "1_0"}, "price"),
    "not a number": ({"price": "NaN"}, "price"),
    "13 digits": ({"price": "1234567890123"}, "price"),
    "a zero before": ({"price": "05"}, "price"),
}


@pytest.mark.parametrize(("cells", "column"), CELLS.values(), ids=CELLS)
def test_a_cell_that_cannot_be_read_is_named(cells, column):
    drafts, faults = read(row(), row(**({"sku": "other"} | cells)))
    assert [fault[:2] for fault in faults] == [(3, column)]
    assert [draft.sku for draft in drafts] == ["ring-1"]


@pytest.mark.parametrize("number", ["1.234,50", "1 234,50", "1.5", "1234.50"])
def test_with_a_decimal_comma_a_point_is_no_number(number):
    _, faults = read(
        f"a;5;6,5;{number}", header="sku;from;to;price", delimiter=";", decimal=","
    )
    assert [fault[:2] for fault in faults] == [(2, "price")]
    assert "','" in faults[0].message


def test_there_is_no_minus_zero():
    drafts, _ = read(row(size_from="-0"))
    assert str(drafts[0].bands[0].size_from) == "0"


def test_rows_of_a_listing_say_the_same_of_it():
    _, faults = read(
        row(size_to="6"), row(size_from="7", title="Other", published="true")
    )
    assert [fault[:2] for fault in faults] == [(3, "title"), (3, "published")]
    assert "row 2 says something else of 'ring-1'" in faults[0].message


def test_faults_are_told_by_the_headings_of_the_file():
    header = HEADER.replace("price", "Preis")
    _, faults = read(row(price="x"), header=header, columns={"price": "Preis"})
    assert faults[0].column == "Preis"


def test_what_a_file_does_not_say_stays_as_it_is(seller):
    old = seller.create(
        band("5", "6", "50"), band("7", "8", "60"), band("9", "10", "70"),
        extras=("box",), published=True, title="Ours",
    )  # fmt: skip
    drafts, _ = read("ring-1,7.5,8.5,65", header="sku,from,to,price")
    assert drafts[0].ask(old) == asked(
        band("7.5", "8.5", "65"), band("5", "6", "50.00"), band("9", "10", "70.00"),
        extras=("box",), published=True, title="Ours",
    )  # fmt: skip


def test_a_new_listing_has_to_say_what_it_is():
    drafts, _ = read("a,5,6", header="sku,from,to")
    assert drafts[0].missing() == ("title", "kind", "coin", "channel", "policy")
    drafts, _ = read(row())
    assert drafts[0].missing() == ()


PLACES = [
    (("title",), (2, "Name")),
    (("extras", 1), (2, "extras")),
    (("bands", 1, "from"), (5, "from")),
    (("bands", 1), (5, "")),
    (("bands", 2, "from"), (2, "")),
    (("bands",), (2, "")),
    ((), (2, "")),
]


@pytest.mark.parametrize(("path", "place"), PLACES)
def test_a_fault_has_its_place_in_the_file(path, place):
    draft = Draft(sku="a", rows=[2, 5])
    headings = {"title": "Name", "extras": "extras", "from": "from"}
    assert draft.place(Fault(path, "bad"), headings) == RowFault(*place, "bad")


def test_a_listing_is_written_one_row_a_band(seller):
    listing = seller.create(
        band("5", "9.5", "189.95"),
        band("10", "12.25", "200"),
        sku="-1",
        title="=Ring",
        kind="ready_made",
        extras=("engraving", "box"),
        locked=True,
        actual_cost=Decimal("0.9"),
    )
    common = ["'-1", "'=Ring", "ready_made", "at_50s_1959_1973", "own_shop", "retail"]
    common += ["engraving box", "true", "false"]
    assert list(rows_of(listing, COLUMNS, ",")) == [
        [*common, "5", "9,5", "189,95", "0,90"],
        [*common, "10", "12,25", "200,00", "0,90"],
    ]
    [first, _] = rows_of(listing, COLUMNS[:-1], ".")
    assert first == [*common, "5", "9.5", "189.95"]
