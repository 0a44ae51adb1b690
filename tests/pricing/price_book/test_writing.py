import json
import tomllib
from dataclasses import fields

import tomli_w
from hypothesis import given

from pricing.price_book import document, read_price_book
from tests.pricing.price_book.documents import changed, small
from tests.strategies.price_books import price_books


def differing_members(one, other):
    names = (field.name for field in fields(one))
    return [name for name in names if getattr(one, name) != getattr(other, name)]


@given(price_books())
def test_a_book_read_from_its_own_document_is_equal(book):
    again = read_price_book(document(book))
    assert differing_members(book, again) == []


@given(price_books())
def test_a_document_is_canonical(book):
    written = document(book)
    assert document(read_price_book(written)) == written


@given(price_books())
def test_a_document_survives_json_and_toml(book):
    written = document(book)
    assert json.loads(json.dumps(written)) == written
    assert tomllib.loads(tomli_w.dumps(written)) == written


def test_what_is_at_its_default_is_left_out():
    book = read_price_book(
        changed(
            (("stages", 0, "batch"), 1),
            (("policies", 0, "max_step"), "1.00"),
            (("policies", 0, "prudence"), "mean"),
            (("forming", "opening_allowance"), "2.50"),
        )
    )
    assert document(book) == document(read_price_book(small()))


def test_a_document_keeps_the_digits_and_the_shape_of_each_chance():
    written = document(read_price_book(small()))
    fold = written["stages"][1]
    assert fold["scrap"] == {"tried": 140, "failed": 3}
    assert fold["redo"] == {"rate": "0.03", "to": "punch"}
    assert written["labour"] == {"rate_per_hour": "32.00"}
    assert written["policies"][0]["quantity_breaks"][0] == {
        "from": 5,
        "target_margin": "0.30",
    }


def test_the_small_document_is_its_own_canonical_form():
    assert document(read_price_book(small())) == changed(
        (("channels", 0, "tax"), {"rate": "0.20"})
    )
