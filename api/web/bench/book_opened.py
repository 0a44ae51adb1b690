"""The price book as a page of it opens it: what stands there, and what a form makes."""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from flask import abort

from api.ports import NotFound, PreconditionFailed
from api.services.price_trials import Trial
from api.web.bench.book_document import with_entry, with_part
from api.web.bench.book_fields import Part
from api.web.bench.book_parts import PARTS, schema_of
from api.web.bench.book_words import titles_of, told, where
from api.web.form_reading import Reader
from api.web.typed_numbers import whole_number
from api.web.visit import Visit
from pricing.errors import BookRefused, Fault, Path
from pricing.price_book import PriceBook, read_price_book
from pricing.price_book import document as written

NEW = "new-entry"
"""In an address, in place of a key: an entry that is not there yet."""

_Options = list[tuple[str, str]]


@dataclass(frozen=True, slots=True, kw_only=True)
class OpenedBook:
    """The book in force.

    Attributes:
        document: as it was stored; what is changed is changed in this.
        canonical: the same, each member in its usual form.
    """

    book: PriceBook
    document: Mapping[str, Any]
    canonical: Mapping[str, Any]

    @property
    def version(self) -> int:
        """Its number."""
        return self.book.version

    def options(self, name: str) -> _Options:
        """Entries of a list that fields choose from, as pairs of key and title."""
        entries = self.canonical.get(name) or ()
        return [(one["key"], one.get("title") or one["key"]) for one in entries]

    def ticked_first(self, name: str, ticked: Sequence[str]) -> _Options:
        """The same, what is ticked before the others and in its own order."""
        options = dict(self.options(name))
        keys = dict.fromkeys((*ticked, *options))
        return [(key, options[key]) for key in keys if key in options]

    def number(self, part: Part, key: str) -> int:
        """Where an entry stands in its list; ends in 404 where it is not there."""
        keys = [one["key"] for one in self.canonical[part.name]]
        return keys.index(key) if key in keys else abort(404)


def opened(visit: Visit) -> OpenedBook | None:
    """The book in force, None before the first. Raises BookRefused."""
    books = visit.services.price_books
    try:
        stored = books.stored()
    except NotFound:
        return None
    book = books.current()
    return OpenedBook(
        book=book, document=json.loads(stored.document), canonical=written(book)
    )


def part_of(visit: Visit) -> Part:
    """The part that the address names; ends in 404 where it names none."""
    return PARTS.get(visit.path["part"]) or abort(404)


def typed_version(visit: Visit) -> int:
    """The version that a form was made from."""
    return whole_number(visit.form.text("_version")) or 0


def refuse_other(visit: Visit, book: OpenedBook) -> None:
    """Raise PreconditionFailed where a form was made from another version."""
    if typed_version(visit) != book.version:
        raise PreconditionFailed(
            f"the price book is at version {book.version} by now", current=book.version
        )


def changed(
    visit: Visit, book: OpenedBook, part: Part, number: int | None
) -> dict[str, Any]:
    """The whole book with what was typed into the form of a part.

    Args:
        visit: with the form.
        book: the one in force.
        part: what the form is of.
        number: where the entry stands, in a list of them; None for a new one.

    Raises:
        BookRefused: with every fault, each at its field where the form has it.
    """
    read = Reader(visit.locale, visit.zone).document(visit.form, schema_of(part))
    visit.form.names.update(read.names)
    entries = book.document.get(part.name) or ()
    if part.listed:
        found = with_entry(book.document, part.name, number, read.document)
        place: Path = (part.name, len(entries) if number is None else number)
    else:
        found, place = with_part(book.document, part, read.document), ()
    faults = {fault.path: fault for fault in read.faults}
    for fault in _faults(found):
        placed = _placed(fault, place, part, found)
        faults.setdefault(placed.path or (placed.message,), placed)
    if faults:
        raise BookRefused("the price book has faults", faults=(*faults.values(),))
    return found


def _faults(document: Mapping[str, Any]) -> tuple[Fault, ...]:
    try:
        read_price_book(document)
    except BookRefused as refused:
        return refused.faults
    return ()


def _placed(
    fault: Fault, place: Path, part: Part, document: Mapping[str, Any]
) -> Fault:
    """A fault at its field, or told with its place where the form does not have it."""
    begins = fault.path[: len(place)] == place
    inside = fault.path[len(place) :]
    if begins and (part.listed or (inside[:1] and inside[0] in part.members)):
        return Fault(inside, fault.message)
    return Fault((), f"{place_of(fault, document)}: {fault.message}")


def place_of(fault: Fault, document: Mapping[str, Any]) -> str:
    """Where a fault of a book is, in words: entries by their keys, not by number."""
    found: Any = document
    named = []
    for member in fault.path:
        try:
            found = found[member]
        except (LookupError, TypeError):
            found = None
        key = found.get("key") if isinstance(found, Mapping) else None
        named.append(str(key or member) if isinstance(member, int) else member)
    return where(".".join(named), titles_of(document))


def placed(document: Mapping[str, Any], work: Callable[[], Any]) -> Any:
    """What ``work`` gives; the faults of a book that is refused told with their place.

    Raises:
        BookRefused: each fault says in words where it is, for a form without fields.
    """
    try:
        return work()
    except BookRefused as refused:
        faults = tuple(
            Fault((), f"{place_of(one, document)}: {one.message}")
            for one in refused.faults
        )
        raise BookRefused(refused.message, faults=faults) from refused


def shown(visit: Visit, trial: Trial, *documents: Mapping[str, Any]) -> dict[str, Any]:
    """What a trial is drawn with."""
    code = trial.rings[0].after.currency if trial.rings else ""
    titles = titles_of(*documents)
    return {
        "trial": trial,
        "told": told(trial.changes, titles, visit.locale, code),
        "version": trial.version,
    }
