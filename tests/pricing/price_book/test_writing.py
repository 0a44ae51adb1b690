import json
import tomllib
from dataclasses import fields

import tomli_w
from hypothesis import given

from pricing.price_book import document, read_price_book
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
