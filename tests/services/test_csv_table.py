"""Files as tables: read as they are said to be written, or refused with a row."""

from __future__ import annotations

import pytest

from api.services.csv_table import (
    MOST_HEADINGS,
    CsvForm,
    RowsRefused,
    headings_of,
    read_table,
    written,
)
from pricing.errors import InvalidInput

KNOWN = ("sku", "title", "price")
PLAIN = b"sku,title,price\r\na-1,One,2\r\n"


def table(data, *, most_rows=10, **form):
    return read_table(
        data, CsvForm(**form), known=KNOWN, needed=("sku",), most_rows=most_rows
    )


def cells(data, **form):
    return [dict(row.cells) for row in table(data, **form).rows]


def faults(data, **form):
    with pytest.raises(RowsRefused) as refused:
        table(data, **form)
    return [(fault.row, fault.column, fault.message) for fault in refused.value.rows]


def headings(data):
    with pytest.raises(RowsRefused) as refused:
        headings_of(data, CsvForm())
    return refused.value.rows


ONE = [{"sku": "a-1", "title": "One", "price": "2"}]
SAME = {
    "line feeds alone": PLAIN.replace(b"\r\n", b"\n"),
    "carriage returns alone": PLAIN.replace(b"\r\n", b"\r"),
    "a byte order mark": b"\xef\xbb\xbf" + PLAIN,
    "no last line end": PLAIN[:-2],
    "quotes": b'"sku","title","price"\r\n"a-1","One","2"\r\n',
    "blanks around": b" sku , title,price\r\na-1 ,\tOne, 2\r\n",
    "blank rows": b"sku,title,price\r\n\r\n,,\r\na-1,One,2\r\n , ,\r\n\r\n",
    "another order": b"price,sku,title\r\n2,a-1,One\r\n",
}


@pytest.mark.parametrize("data", SAME.values(), ids=SAME)
def test_one_table_may_be_written_in_many_ways(data):
    assert cells(data) == ONE


@pytest.mark.parametrize("delimiter", [";", "\t"])
def test_the_delimiter_is_what_it_is_said_to_be(delimiter):
    data = PLAIN.replace(b",", delimiter.encode())
    assert cells(data, delimiter=delimiter) == ONE
    [fault] = faults(data)
    assert fault[:2] == (1, "sku")
    assert "the delimiter is said to be ','" in fault[2]


def test_a_cell_in_quotes_may_hold_anything():
    data = b'sku,title\r\na-1,"One, ""two""\r\nand three"\r\nb-2,Four\r\n'
    found = table(data)
    assert found.rows[0].cells["title"] == 'One, "two"\r\nand three'
    assert [row.number for row in found.rows] == [2, 3]


def test_columns_may_have_other_headings():
    data = b"Nr,title,Preis,sku\r\na-1,One,2,x\r\n"
    found = table(data, columns={"sku": "Nr", "price": "Preis"})
    assert [dict(row.cells) for row in found.rows] == ONE
    assert found.ignored == ("sku",)
    assert found.headings == {"sku": "Nr", "title": "title", "price": "Preis"}


def test_a_column_that_means_nothing_is_passed_over_and_told():
    found = table(b"sku,Notes,,Weight\r\na-1,x,,y\r\n")
    assert found.ignored == ("Notes", "Weight")
    assert [dict(row.cells) for row in found.rows] == [{"sku": "a-1"}]


def test_a_mapping_of_what_is_no_column_is_refused():
    with pytest.raises(InvalidInput, match="'cost' is no column") as refused:
        table(PLAIN, columns={"cost": "Kosten"})
    assert refused.value.path == ("columns",)


HEADERS = {
    "nothing at all": (b"", [(1, "sku")], {}),
    "a blank header": (b",,\r\na-1,One,2\r\n", [(1, "sku")], {}),
    "a column needed": (b"title,price\r\nOne,2\r\n", [(1, "sku")], {}),
    "a column mapped": (PLAIN, [(1, "Preis")], {"columns": {"price": "Preis"}}),
    "a heading twice": (b"sku,sku,price\r\na,b,2\r\n", [(1, "sku")], {}),
}


@pytest.mark.parametrize(("data", "where", "form"), HEADERS.values(), ids=HEADERS)
def test_a_header_at_fault_is_told(data, where, form):
    assert [fault[:2] for fault in faults(data, **form)] == where


def test_only_so_many_headings_are_taken_and_blank_ones_do_not_count():
    most = ",".join(["sku", *["x"] * (MOST_HEADINGS - 1), *[""] * 9]).encode()
    assert len(table(most).ignored) == MOST_HEADINGS - 1
    for look in (faults, headings):
        [fault] = look(most + b"y")
        assert fault[:2] == (1, "")
        assert "1001 headings" in fault[2]


def test_a_heading_that_means_nothing_may_be_there_twice():
    assert cells(b"sku,x,x\r\na-1,1,2\r\n") == [{"sku": "a-1"}]


SPOILT = {
    "Latin-1": ("sku\r\na\r\nGröße\r\n".encode("latin-1"), 3, "not UTF-8"),
    "UTF-16": (PLAIN.decode().encode("utf-16"), 1, "not UTF-8"),
    "UTF-16 without its mark": (PLAIN.decode().encode("utf-16-le"), 1, "as UTF-8"),
    "NUL": (b"sku\r\na\r\nb\0\r\n", 3, "NUL"),
    "a quote within": (b'sku\r\na\r\n"a"b\r\n', 3, "not written as CSV"),
    "a quote that never ends": (b'sku\r\n"a\r\n', 2, "not written as CSV"),
    "an endless cell": (b"sku\r\n" + b"x" * 131_073 + b"\r\n", 2, "field limit"),
    "a cell too many": (b"sku,title\r\na,b\r\na,b,c\r\n", 3, "3 cells"),
    "a cell too few": (b"sku,title\r\na\r\n", 2, "1 cells and the header has 2"),
}


@pytest.mark.parametrize(("data", "row", "said"), SPOILT.values(), ids=SPOILT)
def test_a_file_that_is_no_table_is_refused_with_its_row(data, row, said):
    [fault] = faults(data)
    assert fault[:2] == (row, "")
    assert said in fault[2]


def test_the_longest_cell_there_may_be_is_taken():
    [found] = cells(b"sku\r\n" + b"x" * 131_072)
    assert len(found["sku"]) == 131_072


def test_only_so_many_rows_are_taken_and_blank_ones_do_not_count():
    data = b"sku\r\n" + b"\r\n" + b"a\r\n" * 3
    assert len(table(data, most_rows=3).rows) == 3
    assert len(table(data, most_rows=None).rows) == 3
    with pytest.raises(RowsRefused) as refused:
        table(data, most_rows=2)
    assert [fault.row for fault in refused.value.rows] == [5]


def test_rows_at_fault_count_among_those_that_are_taken():
    data = b"sku,title\r\na\r\nb,b\r\nc\r\nd\r\n"
    with pytest.raises(RowsRefused) as refused:
        table(data, most_rows=2)
    assert [fault.row for fault in refused.value.rows] == [2, 4]
    assert "2 rows at a time" in refused.value.rows[1].message


def test_every_row_of_another_length_is_named():
    data = b"sku,title\r\na\r\nb,b\r\nc,c,c\r\n"
    assert [fault[0] for fault in faults(data)] == [2, 4]


def test_faults_are_told_by_row_for_people_too():
    with pytest.raises(RowsRefused, match="2 rows have faults") as refused:
        table(b"sku,title\r\na\r\nb\r\n")
    assert [fault.dotted for fault in refused.value.faults] == ["row 2", "row 3"]


@pytest.mark.parametrize(
    ("row", "delimiter", "line"),
    [
        (["a", "5,5", 'b"c', "d\ne", ""], ",", 'a,"5,5","b""c","d\ne",\r\n'),
        (["a", "5,5"], ";", "a;5,5\r\n"),
        (["a;b", "x\ty"], "\t", 'a;b\t"x\ty"\r\n'),
    ],
)
def test_rows_are_written_with_quotes_where_they_need_them(row, delimiter, line):
    assert written(row, delimiter) == line
