"""Writing a price book as the document it would be read from."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal
from typing import Any

from pricing.price_book.bench import Redo
from pricing.price_book.book import PriceBook
from pricing.price_book.members import members, plain


def document(book: PriceBook) -> dict[str, object]:
    """The canonical document of ``book``: nested tables of text, ints and flags.

    Figures are plain decimal text with the digits they were read with; whatever
    is at its default is left out. Reading it gives an equal book; the version is
    the storage's and not part of it.
    """
    return _table(book)


def _table(part: Any) -> dict[str, object]:
    return {
        member.name: _written(member.value)
        for member in members(part)
        if not member.default
    }


def _written(value: Any) -> object:
    if isinstance(value, Decimal):
        return plain(value)
    if isinstance(value, tuple):
        return [_written(item) for item in value]
    if isinstance(value, Mapping):
        return {name: _written(item) for name, item in value.items()}
    if isinstance(value, Redo):
        return {**_table(value.chance), "to": value.to}
    return value if isinstance(value, str | int) else _table(value)
