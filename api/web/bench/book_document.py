"""The price book's document between its pages: what a form says of a part, and back."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from decimal import Decimal
from typing import Any

from babel import Locale

from api.web.bench.book_fields import Ask, Part
from api.web.sent_form import Form
from api.web.typed_numbers import typed_number
from pricing.money import tidy

Document = Mapping[str, Any]


def filled(part: Part, document: Document, locale: Locale) -> Form:
    """The form of a part as it stands in a document.

    Args:
        part: which part.
        document: of the book; of the entry, where the part is a list of them.
        locale: how numbers are typed.
    """
    asks = list(part.asks())
    for rows in part.lists():
        entries = _at(document, rows.name) or ()
        asks += [ask for number in range(len(entries)) for ask in rows.row(number)]
    values = {ask.field: _typed(ask, _at(document, ask.name), locale) for ask in asks}
    return Form(values={name: typed for name, typed in values.items() if typed})


def _at(document: Any, name: str) -> Any:
    """What stands in a document under the name of a field."""
    found = document
    for member in name.split("-"):
        if isinstance(found, Mapping):
            found = found.get(member)
        elif isinstance(found, Sequence) and member.isdecimal():
            found = found[int(member)]
        else:
            return None
    return found


def _typed(ask: Ask, value: Any, locale: Locale) -> tuple[str, ...]:
    if ask.kind == "check":
        return ("true" if (ask.on if value is None else value) else "false",)
    if ask.kind == "ticks":
        return tuple(value or ())
    if value is None:
        return ("",)
    if ask.kind not in {"amount", "percent"}:
        return (str(value),)
    number = Decimal(value)  # as the model writes it, so there is nothing else
    if ask.kind == "percent":
        number = tidy(number.scaleb(2), places=0)
    return (typed_number(number, locale),)


def changed_rows(part: Part, form: Form) -> Form | None:
    """The form with a row more or less, as its button says; None for another button."""
    for rows in part.lists():
        if form.wants(f"add-{rows.name}"):
            number = max(form.rows(rows.name, least=0), default=-1) + 1
            return form.with_values(**{ask.field: "" for ask in rows.row(number)})
        dropped = form.deed(f"drop-{rows.name}-")
        if dropped is not None:
            return form.without(f"{rows.name}-{dropped}")
    return None


def with_part(document: Document, part: Part, given: Document) -> dict[str, Any]:
    """The whole document with what a form says of a part that is one form."""
    kept = {name: value for name, value in document.items() if name not in part.members}
    return kept | {name: given[name] for name in part.members if name in given}


def with_entry(
    document: Document, name: str, number: int | None, given: Document
) -> dict[str, Any]:
    """The whole document with one entry of a list; a new one at its end for None."""
    entries = list(document.get(name) or ())
    if number is None:
        entries.append(given)
    else:
        entries[number] = given
    return {**document, name: entries}


def moved(document: Document, name: str, number: int, by: int) -> dict[str, Any]:
    """The whole document with an entry moved up or down, as far as there is room."""
    entries = list(document.get(name) or ())
    entry = entries.pop(number)
    entries.insert(max(0, number + by), entry)
    return {**document, name: entries}


def without_entry(document: Document, name: str, number: int) -> dict[str, Any]:
    """The whole document without an entry of a list."""
    entries = list(document.get(name) or ())
    del entries[number]
    return {**document, name: entries}
