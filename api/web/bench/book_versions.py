"""Versions of the price book: what each changed, going back, and a book from a file."""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Mapping
from typing import Any

from flask import abort

from api.services.settings_text import MOST_BYTES, tables_of, text_of
from api.web.bench.book_edit import BEGIN, HOME
from api.web.bench.book_opened import (
    OpenedBook,
    opened,
    placed,
    refuse_other,
    shown,
)
from api.web.bench.book_words import titles_of, told
from api.web.pages import Page, Pages, Redirect, Result
from api.web.visit import Visit
from pricing.price_book import diff
from pricing.price_book import document as document_of

VERSIONS, COMPARE = f"{HOME}/versions", f"{HOME}/compare"
IMPORT, _BACK = f"{HOME}/import", f"{VERSIONS}/<version>/back"
_MOST_SHOWN = 50
_NUMBER = re.compile("[1-9][0-9]{0,8}", re.ASCII)

pages = Pages(
    "book_versions",
    title="Price book",
    tab="book",
    done={"kept": "The price book has a new version.", "same": "It changes nothing."},
)


@pages.get(VERSIONS)
def show_versions(visit: Visit) -> Result:
    """Every version, newest first: when, by whom, why."""
    found = visit.services.price_books.versions()
    if not found:
        return Redirect(BEGIN)
    before = _number(visit.query.get("before", "")) or found[0].version + 1
    wanted = [one for one in found if one.version < before]
    page = wanted[:_MOST_SHOWN]
    values = {
        "versions": page,
        "older": page[-1].version if len(wanted) > len(page) else 0,
        "newest": found[0].version,
        "who": who(visit),
    }
    return Page("bench/book_versions.html", values)


@pages.get(COMPARE)
def compare(visit: Visit) -> Page:
    """What differs between two versions, in words."""
    books = visit.services.price_books
    old, new = (books.version(version_asked(visit, name)) for name in ("old", "new"))
    titles = titles_of(document_of(old), document_of(new))
    found = told(diff(old, new), titles, visit.locale, new.currency.code)
    newest = books.stored().about.version
    values = {"old": old, "new": new, "told": found, "newest": newest}
    return Page("bench/book_compare.html", values)


@pages.get(_BACK)
def look_back(visit: Visit) -> Result:
    """What going back to an old version would do."""
    book = opened(visit)
    if book is None:
        return Redirect(BEGIN)
    number, document = _old(visit)
    trial = visit.services.price_trials.tried(document)
    values = {
        "words": f"Go back to version {number}",
        "note": f"Back to version {number}",
        "deed": "save",
        "address": f"{VERSIONS}/{number}/back",
        "back": VERSIONS,
        "hidden": {"_version": str(book.version)},
    }
    drawn = shown(visit, trial, book.canonical, document)
    return Page("bench/book_confirm.html", values | drawn)


@pages.post(_BACK, again=look_back, once=True)
def go_back(visit: Visit) -> Redirect:
    """Save an old version as a new one."""
    book = opened(visit)
    if book is None:
        return Redirect(BEGIN)
    refuse_other(visit, book)
    return _save(visit, book, _old(visit)[1])


@pages.get(IMPORT)
def show_import(visit: Visit) -> Result:
    """Where a file is chosen."""
    book = opened(visit)
    if book is None:
        return Redirect(BEGIN)
    return Page("bench/book_import.html", {"version": book.version})


@pages.post(IMPORT, again=show_import, once=True, most_bytes=3 * MOST_BYTES)
def take_import(visit: Visit) -> Result:
    """Show what a book from a file would change, then make it the next version."""
    book = opened(visit)
    if book is None:
        return Redirect(BEGIN)
    text = visit.form.text("_text") or text_of(visit.upload("file"), "file")
    document = tables_of(text, "file")
    trial = placed(document, lambda: visit.services.price_trials.tried(document))
    if visit.form.text("_text"):
        refuse_other(visit, book)
        return _save(visit, book, document)
    values = {
        "words": "A book from a file",
        "note": "",
        "deed": "save",
        "address": IMPORT,
        "back": HOME,
        "hidden": {"_version": str(book.version), "_text": text},
    }
    drawn = shown(visit, trial, book.canonical, document)
    return Page("bench/book_confirm.html", values | drawn)


def who(visit: Visit) -> Callable[[str], str]:
    """Who made a version, in words."""
    labels = {key.id: key.label for key in visit.services.keys.list()}

    def words(by: str) -> str:
        if by in labels:
            return f"key “{labels[by]}”"
        return by or "at this machine"

    return words


def version_asked(visit: Visit, name: str) -> int:
    """The version that the address names, the one in force where it names none."""
    newest: int = visit.services.price_books.stored().about.version
    given = visit.query.get(name, "")
    return (_number(given) or abort(404)) if given else newest


def _number(text: str) -> int:
    return int(text) if _NUMBER.fullmatch(text) else 0


def _old(visit: Visit) -> tuple[int, dict[str, Any]]:
    number = _number(visit.path["version"]) or abort(404)
    stored = visit.services.price_books.stored(number)
    return number, json.loads(stored.document)


def _save(visit: Visit, book: OpenedBook, document: Mapping[str, Any]) -> Redirect:
    visit.services.price_books.replace(
        document, expected=book.version, note=visit.form.text("_note")
    )
    return Redirect(VERSIONS, done="kept")
