"""The price book: refused whole or kept for ever, changed only from what was read."""

from __future__ import annotations

import json
from dataclasses import replace
from decimal import Decimal

import pytest

from api.ports import NotFound, PreconditionFailed
from api.services import PriceBooks, Snapshots
from api.services.actor import acting
from pricing.errors import BookRefused, InvalidInput
from tests.services.feeding import MAKER


@pytest.fixture
def books(storage, clock):
    return PriceBooks(Snapshots(storage, clock), clock)


def test_without_a_book_it_is_said_how_to_load_one(books):
    for ask in (books.current, books.stored, lambda: books.version(1)):
        with pytest.raises(NotFound, match="fineweight book load"):
            ask()
    assert books.versions() == ()


def test_the_first_book_is_version_one(books, book_document, clock):
    with acting(MAKER):
        book = books.replace(book_document, expected=None, note="first")
    assert (book.version, book.title) == (1, "A bench")
    assert books.current().version == 1
    (about,) = books.versions()
    assert (about.version, about.created_at) == (1, clock.now())
    assert (about.note, about.by) == ("first", "maker")


def test_every_version_is_kept(books, book_document, clock):
    for number in range(1, 4):
        document = book_document | {"title": f"Bench {number}"}
        books.replace(document, expected=number - 1 or None)
        clock.advance(days=1)
    assert [books.version(n).title for n in (1, 2, 3)] == [
        "Bench 1",
        "Bench 2",
        "Bench 3",
    ]
    assert [books.version(n).version for n in (1, 2, 3)] == [1, 2, 3]
    assert [about.version for about in books.versions()] == [3, 2, 1]
    assert json.loads(books.stored(2).document) == book_document | {"title": "Bench 2"}
    assert books.stored() == books.stored(3)


@pytest.mark.parametrize("number", [0, -1, 2, 10**30])
def test_a_version_that_is_not_there_is_not_found(books, book_document, number):
    books.replace(book_document, expected=None)
    with pytest.raises(NotFound, match="versions are 1 to 1"):
        books.version(number)


@pytest.mark.parametrize(
    ("expected", "said"),
    [
        (None, "there is a price book already, version 2"),
        (1, "version 1 was expected and version 2 is in force"),
        (3, "version 3 was expected and version 2 is in force"),
        (0, "version 0 was expected"),
        (-1, "version -1 was expected"),
        (10**30, "version 2 is in force"),
    ],
)
def test_a_change_of_another_version_is_refused(books, book_document, expected, said):
    books.replace(book_document, expected=None)
    books.replace(book_document, expected=1)
    with pytest.raises(PreconditionFailed, match=said) as refused:
        books.replace(book_document, expected=expected)
    assert refused.value.current == 2
    assert len(books.versions()) == 2


def test_a_change_of_a_book_that_is_not_there_is_refused(books, book_document):
    with pytest.raises(PreconditionFailed, match="no price book yet") as refused:
        books.replace(book_document, expected=1)
    assert refused.value.current is None
    assert books.versions() == ()


def test_a_bad_book_is_refused_whole_with_every_fault(books, book_document):
    books.replace(book_document, expected=None)
    bad = book_document | {"currency": "XAG", "labour": {"rate_per_hour": "-1"}}
    with pytest.raises(BookRefused) as refused:
        books.replace(bad, expected=1)
    assert {fault.dotted for fault in refused.value.faults} >= {
        "currency",
        "labour.rate_per_hour",
    }
    assert len(books.versions()) == 1
    assert books.current().currency.code == "EUR"


def test_a_note_is_one_plain_line(books, book_document):
    with pytest.raises(InvalidInput) as refused:
        books.replace(book_document, expected=None, note="two\nlines")
    assert refused.value.path == ("note",)
    assert books.versions() == ()


def test_a_document_is_kept_as_the_same_text_whatever_its_order(books, book_document):
    books.replace(book_document, expected=None)
    books.replace(dict(reversed(book_document.items())), expected=1)
    assert books.stored(1).document == books.stored(2).document
    assert " " not in books.stored(1).document.replace("A bench", "")


def test_unquoted_figures_of_a_toml_file_are_kept_exactly(books, book_document):
    labour = {"rate_per_hour": Decimal("32.10"), "overhead_per_hour": 9}
    books.replace(book_document | {"labour": labour}, expected=None)
    kept = json.loads(books.stored().document)["labour"]
    assert kept == {"rate_per_hour": "32.10", "overhead_per_hour": 9}
    assert books.current().labour.rate_per_hour == Decimal("32.10")


def test_what_the_reader_lets_through_but_json_cannot_hold_is_a_bug(
    books, book_document, monkeypatch
):
    monkeypatch.setattr(
        "api.services.price_book.read_price_book", lambda *_, **__: None
    )
    with pytest.raises(TypeError, match="object cannot be stored"):
        books.replace(book_document | {"odd": object()}, expected=None)


def test_the_book_in_force_is_read_once(books, book_document):
    books.replace(book_document, expected=None)
    assert books.current() is books.current()
    books.replace(book_document, expected=1)
    assert books.current().version == 2


def test_a_book_of_other_rules_is_refused_when_it_is_needed(
    books, book_document, storage
):
    books.replace(book_document, expected=None)

    def spoil(unit):
        unit.revisions.bump("price_book")
        old = unit.books.newest()
        about = replace(old.about, version=2)
        unit.books.add(replace(old, about=about, document='{"title": 1}'))

    storage.write(spoil)
    with pytest.raises(BookRefused):
        books.current()
    assert books.version(1).title == "A bench"
