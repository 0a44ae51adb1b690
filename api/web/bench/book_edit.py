"""A part of the price book as a form; what a change does is shown before it is kept."""

from __future__ import annotations

from typing import Any

from api.services.price_trials import Trial
from api.web.bench.book_bench_parts import DRIVER_WORDS
from api.web.bench.book_document import (
    changed_rows,
    filled,
    moved,
    without_entry,
)
from api.web.bench.book_fields import Part
from api.web.bench.book_opened import (
    NEW,
    OpenedBook,
    changed,
    opened,
    part_of,
    placed,
    refuse_other,
    shown,
)
from api.web.pages import Page, Pages, Redirect, Result
from api.web.visit import Visit

pages = Pages(
    "book_edit",
    title="Price book",
    tab="book",
    done={
        "kept": "The price book has a new version. What was before can be brought back "
        "under Versions.",
        "same": "Nothing was changed, so there is no new version.",
    },
)

HOME = "/bench/book"
BEGIN = "/bench/begin"
_PART, _ENTRY = f"{HOME}/<part>", f"{HOME}/<part>/<key>"


@pages.get(_PART)
def show_part(visit: Visit) -> Result:
    """A part: its form, or the list of its entries."""
    part, book = part_of(visit), opened(visit)
    if book is None:
        return Redirect(BEGIN)
    if part.listed:
        return Page("bench/book_list.html", _listed(part, book))
    return _form(visit, part, book)


@pages.get(_ENTRY)
def show_entry(visit: Visit) -> Result:
    """One entry of a list: its form."""
    part, book = part_of(visit), opened(visit)
    if book is None:
        return Redirect(BEGIN)
    return _form(visit, part, book)


@pages.post(_PART, again=show_part, once=True)
def change_part(visit: Visit) -> Result:
    """Keep a part as it was typed, try it, or move an entry of its list."""
    part, book = part_of(visit), opened(visit)
    if book is None:
        return Redirect(BEGIN)
    if part.listed:
        return _change_list(visit, part, book)
    return _change(visit, part, book)


@pages.post(_ENTRY, again=show_entry, once=True)
def change_entry(visit: Visit) -> Result:
    """Keep an entry as it was typed, or try it."""
    part, book = part_of(visit), opened(visit)
    if book is None:
        return Redirect(BEGIN)
    return _change(visit, part, book)


@pages.live(_PART, part="effect", template="bench/book_effect.html")
@pages.live(_ENTRY, part="effect", template="bench/book_effect.html")
def effect(visit: Visit) -> dict[str, Any]:
    """What the form as it stands would do."""
    part, book = part_of(visit), opened(visit)
    if book is None:
        return {}
    document = changed(visit, book, part, _number(visit, part, book))
    trial = visit.services.price_trials.tried(document)
    return shown(visit, trial, book.canonical, document)


def _number(visit: Visit, part: Part, book: OpenedBook) -> int | None:
    key = visit.path.get("key", NEW)
    return None if key == NEW or not part.listed else book.number(part, key)


def _form(visit: Visit, part: Part, book: OpenedBook) -> Page:
    """The form as it was typed, or else as the book stands."""
    if visit.form.sent:
        return _drawn(visit, part, book, None)
    document: Any = book.canonical
    if part.listed:
        number = _number(visit, part, book)
        document = {} if number is None else book.canonical[part.name][number]
    again = visit.again(filled(part, document, visit.locale))
    return _drawn(again, part, book, visit.services.price_trials.tried(book.document))


def _drawn(visit: Visit, part: Part, book: OpenedBook, trial: Trial | None) -> Page:
    key = visit.path.get("key", "")
    values = {
        "part": part,
        "book": book,
        "code": book.book.currency.code,
        "address": f"{HOME}/{part.name}/{key}" if key else f"{HOME}/{part.name}",
        "back": f"{HOME}/{part.name}" if key else HOME,
        "named": dict(book.options(part.name)).get(key, "") if key else "",
        "version": book.version,
    }
    tried = shown(visit, trial, book.canonical) if trial else {}
    return Page("bench/book_edit.html", values | tried)


def _change(visit: Visit, part: Part, book: OpenedBook) -> Page | Redirect:
    rows = changed_rows(part, visit.form)
    if rows is not None:
        return _drawn(visit.again(rows), part, book, None)
    refuse_other(visit, book)  # before its entry is looked for, which may be gone
    document = changed(visit, book, part, _number(visit, part, book))
    trial = visit.services.price_trials.tried(document)
    if visit.form.wants("try"):
        page = _drawn(visit, part, book, None)
        tried = shown(visit, trial, book.canonical, document)
        return Page(page.template, {**page.values, **tried, "only_tried": True})
    return _kept(visit, part, book, document, trial=trial)


def _kept(
    visit: Visit,
    part: Part,
    book: OpenedBook,
    document: dict[str, Any],
    *,
    trial: Trial,
) -> Redirect:
    address = f"{HOME}/{part.name}"
    if not trial.changes:
        return Redirect(address, done="same")
    visit.services.price_books.replace(
        document, expected=book.version, note=visit.form.text("_note")
    )
    return Redirect(address, done="kept")


def _listed(part: Part, book: OpenedBook) -> dict[str, Any]:
    return {
        "part": part,
        "book": book,
        "entries": getattr(book.book, part.name),
        "version": book.version,
        "drivers": DRIVER_WORDS,
    }


def _change_list(visit: Visit, part: Part, book: OpenedBook) -> Page | Redirect:
    """Move or drop an entry: shown first, and done when it is sent once more."""
    refuse_other(visit, book)
    words, document = _dealt(visit, part, book)
    if document is None:
        return Page("bench/book_list.html", _listed(part, book))
    trial = placed(document, lambda: visit.services.price_trials.tried(document))
    if visit.form.text("_sure"):
        return _kept(visit, part, book, document, trial=trial)
    values = {
        "words": words,
        "deed": visit.form.text("_do"),
        "address": f"{HOME}/{part.name}",
        "back": f"{HOME}/{part.name}",
        "hidden": {"_version": str(book.version), "_sure": "yes"},
        "code": book.book.currency.code,
    }
    return Page(
        "bench/book_confirm.html",
        values | shown(visit, trial, document, book.canonical),
    )


def _dealt(
    visit: Visit, part: Part, book: OpenedBook
) -> tuple[str, dict[str, Any] | None]:
    """What a button of the list means: in words, and the book it makes."""
    named = dict(book.options(part.name))
    for begins, words in (("up-", "up"), ("down-", "down"), ("drop-", "")):
        key = visit.form.deed(begins)
        if key is None:
            continue
        number = book.number(part, key)
        if not words:
            told = f"Take {part.one} “{named[key]}” out of the book"
            return told, without_entry(book.document, part.name, number)
        step = -1 if words == "up" else 1
        told = f"Move {part.one} “{named[key]}” {words}"
        return told, moved(book.document, part.name, number, step)
    return "", None
