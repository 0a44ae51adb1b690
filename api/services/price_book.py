"""The price book: every version kept for ever, the newest in force."""

from __future__ import annotations

import json
from collections.abc import Mapping
from decimal import Decimal

from api.ports import (
    BookVersion,
    Clock,
    NotFound,
    PreconditionFailed,
    StoredBook,
    UnitOfWork,
)
from api.services.actor import actor
from api.services.audit import note as note_down
from api.services.plain_text import plain_line
from api.services.snapshots import Snapshots
from pricing.price_book import PriceBook
from pricing.price_book.reading import read_price_book

_NO_BOOK = "there is no price book yet; load one with: fineweight book load FILE"


class PriceBooks:
    """The workshop's price book and its history."""

    def __init__(self, snapshots: Snapshots, clock: Clock) -> None:
        self._snapshots = snapshots
        self._clock = clock
        # The book in force, read once. The pair is replaced as a whole.
        self._read: tuple[StoredBook, PriceBook] | None = None

    def current(self) -> PriceBook:
        """The book in force.

        Raises:
            NotFound: there is none yet.
            BookRefused: it was stored by a program with other rules.
        """
        stored = self.stored()
        held = self._read
        if held is not None and held[0] is stored:
            return held[1]
        book = _book(stored)
        self._read = (stored, book)
        return book

    def version(self, number: int) -> PriceBook:
        """One version of the book. Raises NotFound."""
        return _book(self.stored(number))

    def stored(self, number: int | None = None) -> StoredBook:
        """One version's document and history, the newest by default.

        Raises:
            NotFound: there is no such version.
        """
        newest = self._snapshots.take().book
        if newest is None:
            raise NotFound(_NO_BOOK)
        if number is None or number == newest.about.version:
            return newest
        found = None
        if 0 < number < newest.about.version:
            read = self._snapshots.storage.read
            found = read(lambda unit: unit.books.version(number))
        if found is None:
            raise NotFound(
                f"the price book has no version {number}; "
                f"its versions are 1 to {newest.about.version}"
            )
        return found

    def versions(self) -> tuple[BookVersion, ...]:
        """Every version, newest first; empty before the first."""
        return self._snapshots.storage.read(lambda unit: unit.books.versions())

    def replace(
        self,
        document: Mapping[str, object],
        *,
        expected: int | None,
        note: str = "",
    ) -> PriceBook:
        """Put a new version in force.

        Args:
            document: the whole book, as a TOML or JSON parser gives it.
            expected: number of the version it was made from [count], None where
                there must be none yet.
            note: why, in a line.

        Raises:
            BookRefused: something is wrong with it; nothing was changed.
            InvalidInput: the note is not a plain line.
            PreconditionFailed: another version is in force.
        """
        read_price_book(document)  # refused here, before anything is changed
        text = _canonical(document)
        about = BookVersion(
            version=(expected or 0) + 1,
            created_at=self._clock.now(),
            by=actor().by,
            note=plain_line(note, "note"),
        )

        def add(unit: UnitOfWork) -> StoredBook:
            # Not the count of changes: a restored backup has fewer versions.
            newest = unit.books.newest()
            current = newest.about.version if newest else 0
            if current != (expected or 0):
                raise _other_version(current, expected)
            unit.revisions.bump("price_book")
            unit.books.add(StoredBook(about=about, document=text))
            _note(unit, about, document["title"])
            return StoredBook(about=about, document=text)

        return _book(self._snapshots.write(add))


def _note(unit: UnitOfWork, about: BookVersion, title: object) -> None:
    before, number = about.version - 1, about.version
    note_down(
        unit,
        about.created_at,
        "price_book.replaced",
        str(number),
        before={"version": before} if before else None,
        after={"version": number, "title": title, "note": about.note},
    )


def _other_version(current: int, expected: int | None) -> PreconditionFailed:
    if expected is None:
        said = f"there is a price book already, version {current}"
    elif current == 0:
        said = f"version {expected} was expected and there is no price book yet"
    else:
        said = f"version {expected} was expected and version {current} is in force"
    return PreconditionFailed(
        f"{said}; read the book again, make the change to that and send it anew",
        current=current or None,
    )


def _book(stored: StoredBook) -> PriceBook:
    document = json.loads(stored.document)
    return read_price_book(document, version=stored.about.version)


def _canonical(document: Mapping[str, object]) -> str:
    """The one JSON text of a document: members sorted, no blanks, ASCII."""
    return json.dumps(document, sort_keys=True, separators=(",", ":"), default=_plain)


def _plain(value: object) -> str:
    if isinstance(value, Decimal):  # a TOML file may hold figures without quotes
        return format(value, "f")
    raise TypeError(f"{type(value).__name__} cannot be stored in a price book")
