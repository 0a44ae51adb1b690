"""Listings as CSV files over HTTP: in, out, and every row at fault."""

from __future__ import annotations

import csv
import io

import pytest

from tests.http.listing import COIN, HEADER, LISTINGS, RING, add, csv_text, line

IMPORT = f"{LISTINGS}/import"
EXPORT = f"{LISTINGS}/export"
MOST = 2 * 1024 * 1024


def send(workshop, body, query="", **more):
    return workshop.send("POST", f"{IMPORT}?{query}" if query else IMPORT, body, **more)


def places(answer):
    return [(each["row"], each.get("column")) for each in answer.json["errors"]]


def test_a_file_is_taken_whole_and_again_without_effect(workshop):
    text = csv_text(line(size_to="7"), line(size_from="8", price=""), line("two"))
    answer = send(workshop, text)
    report = answer.json
    assert answer.status_code == 200
    assert (report["rows"], report["added"], report["changed"]) == (3, 2, 0)
    assert report["bands"] == {"added": 3, "changed": 0, "removed": 0}
    assert report["changes"][0]["bands"][0] == {
        "from": "5",
        "to": "7",
        "old": None,
        "new": "189.95",
    }
    assert workshop.get(f"{LISTINGS}/two").json["published"] is True
    before = workshop.counts()
    again = send(workshop, text).json
    assert (again["unchanged"], again["changes"]) == (2, [])
    assert workshop.counts() == before


def test_a_dry_run_tells_and_writes_nothing(workshop):
    before = workshop.counts()
    answer = send(workshop, csv_text(line()), "dry_run=true")
    assert (answer.json["dry_run"], answer.json["added"]) == (True, 1)
    assert workshop.counts() == before


def test_an_edited_export_comes_back(workshop):
    add(workshop, title="=1+1", published=True)
    exported = workshop.get(EXPORT)
    assert "'=1+1" in exported.text
    text = exported.text.replace("189.95", "199.95")
    report = send(workshop, text).json
    assert [change["members"] for change in report["changes"]] == [[]]
    listing = workshop.get(f"{LISTINGS}/ring-1").json
    assert (listing["title"], listing["bands"][0]["price"]) == ("=1+1", "199.95")


def test_an_export_is_a_file_for_spreadsheets(workshop):
    add(workshop)
    answer = workshop.get(EXPORT)
    assert answer.headers["Content-Type"] == "text/csv; charset=utf-8; header=present"
    assert (
        answer.headers["Content-Disposition"] == 'attachment; filename="listings.csv"'
    )
    assert answer.headers["X-Content-Type-Options"] == "nosniff"
    assert answer.headers["Cache-Control"] == "no-store"
    assert answer.text == f"{HEADER}\r\n{line()}\r\n".replace(
        "false,true", "false,false"
    )


def test_a_file_of_another_dialect_is_read_as_it_is_said_to_be(workshop):
    add(workshop, sku="old")
    exported = workshop.get(f"{EXPORT}?delimiter=%3B&decimal=,").text
    assert exported.splitlines()[1].endswith(";5;9,5;189,95")
    text = (
        "Nummer;Name;kind;coin;channel;policy;from;to;Preis;Notiz\n"
        f"neu;Ring;made_to_order;{COIN};own_shop;retail;5;9,5;99,90;x\n"
    )
    query = "delimiter=%3B&decimal=,&columns=sku=Nummer,title=Name,price=Preis"
    report = send(workshop, text, query).json
    assert (report["added"], report["ignored"]) == (1, ["Notiz"])
    assert workshop.get(f"{LISTINGS}/neu").json["bands"][0]["price"] == "99.90"
    assert send(workshop, text).status_code == 422


def test_every_row_at_fault_is_named_and_nothing_is_imported(workshop):
    rows = [line(f"ring-{n}") for n in range(120)]
    for n in range(7, 120, 3):
        rows[n] = line(f"ring-{n}", policy="nothing")
    rows[5] = line("ring-5", size_from="5.1", price="x")
    before = workshop.counts()
    answer = send(workshop, csv_text(*rows))
    assert answer.status_code == 422
    assert answer.json["type"] == "/docs/problems/invalid-input"
    bad = [(n + 2, "policy") for n in range(7, 120, 3)]
    assert places(answer) == [(7, "price"), *bad]
    assert "39 rows have faults" in answer.json["detail"]
    assert workshop.counts() == before


def test_a_fault_of_a_whole_row_has_no_column(workshop):
    assert places(send(workshop, csv_text("a,b"))) == [(2, None)]


BODIES = {
    "nothing": (b"", 1),
    "a header alone of something else": (b"a,b\r\n", 1),
    "NUL": (csv_text(line()).encode().replace(b"A band", b"A\0band"), 2),
    "Latin-1": (csv_text(line().replace("A band", "Größe")).encode("latin-1"), 2),
    "UTF-16": (csv_text(line()).encode("utf-16"), 1),
    "an endless cell": (csv_text(line("x" * 131_073)).encode(), 2),
    "a quote too many": (csv_text(line('"a"b')).encode(), 2),
    "a control sign": (csv_text(line().replace("band", "b\x1bnd")).encode(), 2),
    "an exponent": (csv_text(line(price="1e1000000")).encode(), 2),
    "full-width digits": (csv_text(line(price="\uff11")).encode(), 2),
}


@pytest.mark.parametrize(("body", "row"), BODIES.values(), ids=BODIES)
def test_what_is_no_such_file_is_refused_with_its_row(workshop, body, row):
    before = workshop.counts()
    answer = send(workshop, body, content_type="text/csv")
    assert answer.status_code == 422
    assert {place[0] for place in places(answer)} == {row}
    assert workshop.counts() == before


def test_a_byte_order_mark_is_passed_over(workshop):
    body = b"\xef\xbb\xbf" + csv_text(line()).encode()
    answer = send(workshop, body, content_type="text/csv; charset=utf-8")
    assert answer.json["added"] == 1


@pytest.mark.parametrize(
    "kind",
    [
        "",
        "text/plain",
        "application/json",
        "text/csv; charset=windows-1252",
        "text/csv; charset=utf-16",
    ],
)
def test_another_kind_of_body_is_refused_unread(workshop, kind):
    answer = send(workshop, csv_text(line()).encode(), content_type=kind)
    assert answer.status_code == 415
    assert answer.headers["Accept"] == "text/csv"


def test_a_compressed_body_is_refused(workshop):
    headers = {"Content-Encoding": "gzip"}
    answer = send(workshop, csv_text(line()), headers=headers)
    assert answer.status_code == 415
    assert answer.headers["Accept-Encoding"] == "identity"


@pytest.mark.parametrize("size", [64 * 1024 + 1, MOST - 1, MOST, MOST + 1])
def test_a_file_may_hold_two_megabytes(workshop, size):
    text = csv_text(line()).encode()
    blank = b"\r\n" * ((size - len(text)) // 2)
    body = text + blank + b"\n" * (size - len(text) - len(blank))
    answer = send(workshop, body, content_type="text/csv")
    assert len(body) == size
    assert answer.status_code == (413 if size > MOST else 200)


def test_json_may_still_hold_64_kilobytes_alone(workshop):
    body = RING | {"title": "x" * 70_000}
    assert workshop.post(LISTINGS, body).status_code == 413


@pytest.mark.slow
def test_a_file_may_have_5000_rows(workshop):
    rows = [line(f"ring-{n}") for n in range(5001)]
    assert places(send(workshop, csv_text(*rows))) == [(5002, None)]
    report = send(workshop, csv_text(*rows[:-1]), "dry_run=true").json
    assert report["added"] == 5000


@pytest.mark.parametrize(
    ("query", "name"),
    [
        ("delimiter=%7C", "delimiter"),
        ("delimiter=", "delimiter"),
        ("decimal=%3B", "decimal"),
        ("dry_run=yes", "dry_run"),
        ("columns=title", "columns"),
        ("columns=cost=Kosten", "columns"),
        ("columns=title=Name,title=Titel", "columns"),
        ("columns=title=%20", "columns"),
        ("columns=", "columns"),
        ("guess=true", "guess"),
    ],
)
def test_a_parameter_that_says_nothing_is_named(workshop, query, name):
    answer = send(workshop, csv_text(line()), query)
    assert answer.status_code == 422
    assert [each["parameter"] for each in answer.json["errors"]] == [name]


def test_who_may_not_import_is_told_before_the_body_is_read(workshop):
    for key, status in ((None, 401), ("window", 403), ("shop", 403)):
        answer = send(workshop, b"x" * (MOST + 1), key=key, content_type="text/csv")
        assert answer.status_code == status


def test_only_csv_is_answered_by_an_export(workshop):
    fine = {"Accept": "text/csv, application/json;q=0.5"}
    assert workshop.get(EXPORT, headers=fine).status_code == 200
    json_alone = {"Accept": "application/json"}
    assert workshop.get(EXPORT, headers=json_alone).status_code == 406
    csv_alone = {"Accept": "text/csv"}
    assert send(workshop, csv_text(line()), headers=csv_alone).status_code == 406


def test_no_exported_text_is_a_formula(workshop):
    for n, title in enumerate(("=1+1", "+1", "-1", "@A1", " =1", "'=1", "\u00a0-2")):
        add(workshop, f"-{n}", title=title)
    text = workshop.get(EXPORT).text
    rows = list(csv.reader(io.StringIO(text, newline="")))[1:]
    assert len(rows) == 7
    for row in rows:
        for cell in row[:9]:
            assert cell.lstrip()[:1] not in set("=+-@")
    assert send(workshop, text).json["unchanged"] == 7
