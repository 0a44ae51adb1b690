"""From an empty workshop to a first ring."""

from __future__ import annotations

import csv
import io
import json
import re

import pytest

from api.ports import ListingFilter
from api.services.starting_book import TO_BE_TIMED
from tests.architecture.source import ROOT

BEGIN = "/bench/begin"
TOML = (ROOT / "demo/price_book.toml").read_bytes()
CSV = (ROOT / "demo/listings.csv").read_bytes()
ANSWERS = {
    "title": "My bench",
    "currency": "EUR",
    "timezone": "Europe/Vienna",
    "rate_per_hour": "32",
    "overhead_per_hour": "",
    "tax.pct": "20",
    "target_margin.pct": "35",
}


def upload(desk, step, field, data, drawn=BEGIN):
    return desk.post(
        f"{BEGIN}/{step}",
        {field: (io.BytesIO(data), "file")},
        drawn=drawn,
        content_type="multipart/form-data",
    )


@pytest.fixture
def begun(empty_desk):
    upload(empty_desk, "book", "book_file", TOML)
    empty_desk.post(f"{BEGIN}/spot", {"price": "27.50"}, drawn=BEGIN)
    return empty_desk


def test_an_empty_workshop_is_asked_for_its_book_first(empty_desk):
    page = empty_desk.get(BEGIN, **{"Accept-Language": "de-AT"}).text
    assert "Set the workshop up" in page
    assert 'value="EUR"' in page
    assert 'value="Europe/Vienna"' in page
    assert f'action="{BEGIN}/spot"' not in page
    assert "/bench/begin" in empty_desk.get("/bench").text


def test_a_book_from_a_file_a_spot_and_listings_lead_to_the_first_ring(empty_desk):
    desk = empty_desk
    done = upload(desk, "book", "book_file", TOML)
    assert done.headers["Location"] == f"{BEGIN}?done=book"
    assert desk.services.price_books.current().version == 1
    done = desk.post(f"{BEGIN}/spot", {"price": "27.50"}, drawn=BEGIN)
    assert done.headers["Location"] == f"{BEGIN}?done=spot"
    assert desk.services.spot_prices.current().currency == "EUR"
    done = upload(desk, "listings", "listing_file", CSV)
    assert done.headers["Location"] == f"{BEGIN}?done=listings"
    page = desk.get(f"{BEGIN}?done=listings").text
    assert "The listings are read in." in page
    assert 'action="/bench/quotes/new"' in page
    assert "at_50s_1959_1973" in page


def test_a_few_answers_make_a_book_whose_minutes_are_to_be_timed(empty_desk):
    done = empty_desk.post(f"{BEGIN}/answers", ANSWERS, drawn=BEGIN)
    assert done.status_code == 303
    book = empty_desk.services.price_books.current()
    assert book.title == "My bench"
    assert str(book.policies[0].target_margin) == "0.35"
    assert all(stage.title.endswith(TO_BE_TIMED) for stage in book.stages)


def untimed(desk):
    """How many stages each page says are to be timed; '' where it says nothing."""
    pages = (BEGIN, "/bench/book", "/bench/quotes/new")
    said = re.compile(r"(\d+) stages? (?:is|are) marked .* with invented minutes")
    found = [said.search(desk.get(page).text) for page in pages]
    return [one[1] if one else "" for one in found]


def test_pages_say_that_minutes_are_invented_until_the_last_stage_is_timed(empty_desk):
    empty_desk.post(f"{BEGIN}/answers", ANSWERS, drawn=BEGIN)
    assert untimed(empty_desk) == ["9", "9", "9"]
    document = json.loads(empty_desk.services.price_books.stored().document)
    for version, stage in enumerate(document["stages"], start=1):
        stage["title"] = stage["title"].removesuffix(f" {TO_BE_TIMED}")
        empty_desk.services.price_books.replace(document, expected=version)
        left = str(9 - version) if version < 9 else ""
        assert untimed(empty_desk) == [left] * 3


def test_whoever_begins_is_told_what_can_hurt(empty_desk):
    for page in (empty_desk.get(BEGIN).text, empty_desk.get("/bench/words").text):
        assert "eye protection" in page
        assert "Take every scrap of PTFE tape off the ring before annealing" in page
        assert "Keep it from pickle and any acid" in page
        assert "check the law" in page


@pytest.mark.parametrize(
    ("wrong", "field"),
    [
        ({"target_margin.pct": "100"}, "target_margin.pct"),
        ({"rate_per_hour": "much"}, "rate_per_hour"),
        ({"currency": "ABC"}, "currency"),
        ({"timezone": "Mars/Base"}, "timezone"),
        ({"title": ""}, "title"),
    ],
)
def test_answers_that_cannot_be_are_told_at_their_fields(empty_desk, wrong, field):
    page = empty_desk.post(f"{BEGIN}/answers", ANSWERS | wrong, drawn=BEGIN)
    assert page.status_code == 422
    assert f'id="e-{field}"' in page.text
    assert '<details id="answers" open>' in page.text
    assert empty_desk.services.price_books.versions() == ()


@pytest.mark.parametrize(
    ("data", "said"),
    [
        (b"", "no file was chosen"),
        (b"\xff\xfe", "no text"),
        (b"a = ", "no price book"),
        (TOML.replace(b'currency = "EUR"', b'currency = "ABC"'), "currency"),
        (b'{"title": "Rings", "tools": 5, "stages": "fold"}', "tools"),
    ],
    ids=["none", "no text", "no TOML", "at fault", "no lists"],
)
def test_a_file_that_is_no_book_is_told(empty_desk, data, said):
    page = upload(empty_desk, "book", "book_file", data)
    assert page.status_code == 422
    assert said.casefold() in page.text.casefold()
    assert 'href="#f-book_file"' in page.text
    assert empty_desk.services.price_books.versions() == ()


def test_a_second_book_is_not_taken_here(begun):
    marks = begun.marks(BEGIN)
    page = begun.client.post(
        f"{BEGIN}/book", data=marks | {"book_file": (io.BytesIO(TOML), "book.toml")}
    )
    assert page.status_code == 412
    assert begun.services.price_books.current().version == 1


@pytest.mark.parametrize("price", ["", "0", "-3", "many"])
def test_a_spot_that_cannot_be_is_told(empty_desk, price):
    upload(empty_desk, "book", "book_file", TOML)
    page = empty_desk.post(f"{BEGIN}/spot", {"price": price}, drawn=BEGIN)
    assert page.status_code == 422
    assert 'id="e-price"' in page.text


def test_listings_with_faults_are_told_row_by_row_and_none_is_read_in(begun):
    bad = CSV.replace(b"own_shop", b"no_shop", 1)
    page = upload(begun, "listings", "listing_file", bad)
    assert page.status_code == 422
    assert "Row 2" in page.text
    assert begun.services.listings.page(ListingFilter(), limit=1).listings == ()
    assert upload(begun, "listings", "listing_file", b"").status_code == 422


def test_listings_with_commas_before_decimals_are_read(begun):
    rows = list(csv.reader(CSV.decode().splitlines()))
    commas = [[*row[:9], *(cell.replace(".", ",") for cell in row[9:])] for row in rows]
    data = "\n".join(";".join(row) for row in commas)
    sent = {"listing_file": (io.BytesIO(data.encode()), "l.csv"), "decimal": "comma"}
    done = begun.post(
        f"{BEGIN}/listings", sent, drawn=BEGIN, content_type="multipart/form-data"
    )
    assert done.status_code == 303, done.text
    assert begun.services.listings.page(ListingFilter(), limit=1).listings


def test_a_shop_that_has_listings_is_sent_to_their_own_import(desk):
    done = upload(desk, "listings", "listing_file", CSV, "/bench/book/import")
    assert done.headers["Location"] == "/bench/listings/import"


@pytest.mark.parametrize(
    "path", ["/bench", "/bench/spot", "/bench/quotes", "/bench/week", "/bench/coins"]
)
def test_before_the_first_book_pages_lead_here_and_later_they_do_not(
    empty_desk, desk, path
):
    assert BEGIN in empty_desk.get(path).text
    answer = desk.get(path)
    assert BEGIN not in desk.get(answer.headers.get("Location", path)).text
