"""How a field of a document is asked for: label, unit, and how it is typed.

A part of the price book is declared once, as groups of fields. From that come its
form, what stands in it, and the words in which a change is told.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import KW_ONLY, dataclass, replace
from typing import Literal

Kind = Literal[
    "text", "key", "amount", "percent", "whole", "check", "choice", "ticks", "area"
]
PERCENT_END = ".pct"


@dataclass(frozen=True, slots=True)
class Ask:
    """One field.

    Attributes:
        name: members of the document with hyphens between.
        label: what a person calls it.
        unit: beside the field; ``{money}`` stands for the book's currency.
        kind: how it is typed.
        hint: a line below the label.
        options: pairs of value and text, or the name of a list of the book's keys.
        needed: whether it may not be blank.
        on: of a check, whether it is ticked where the document says nothing.
    """

    name: str
    label: str
    unit: str = ""
    _: KW_ONLY
    kind: Kind = "amount"
    hint: str = ""
    options: tuple[tuple[str, str], ...] | str = ()
    needed: bool = False
    on: bool = False

    @property
    def field(self) -> str:
        """The name of its field in a form."""
        return f"{self.name}{PERCENT_END}" if self.kind == "percent" else self.name

    def under(self, prefix: str) -> Ask:
        """The same field of an entry of a list."""
        return replace(self, name=f"{prefix}-{self.name}")


@dataclass(frozen=True, slots=True)
class Rows:
    """A list of tables, one row each, that can be added to.

    Attributes:
        name: of the list in the document.
        one: what a row is called.
        asks: the fields of a row; one of the name '' stands for the row itself.
        label: field that tells rows apart.
    """

    name: str
    one: str
    asks: tuple[Ask, ...]
    _: KW_ONLY
    label: str = "title"

    def row(self, number: int) -> tuple[Ask, ...]:
        """The fields of one row."""
        prefix = f"{self.name}-{number}"
        return tuple(
            ask.under(prefix) if ask.name else replace(ask, name=prefix)
            for ask in self.asks
        )


@dataclass(frozen=True, slots=True)
class Group:
    """Fields that belong together.

    Attributes:
        word: entry of the glossary.
        folded: whether it is shut at first.
    """

    title: str
    asks: tuple[Ask, ...] = ()
    _: KW_ONLY
    about: str = ""
    rows: Rows | None = None
    word: str = ""
    folded: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """A page of the price book.

    Attributes:
        name: in its address.
        members: of the document that it holds; where it is a list of entries with
            a page each, that list's name alone.
        one: what such an entry is called; '' where the part is one form.
    """

    name: str
    title: str
    about: str
    members: tuple[str, ...]
    groups: tuple[Group, ...]
    one: str = ""

    @property
    def listed(self) -> bool:
        """Whether it is a list of entries that have a page each."""
        return bool(self.one)

    def asks(self) -> Iterator[Ask]:
        """Every field that is not in a row."""
        for group in self.groups:
            yield from group.asks

    def lists(self) -> Iterator[Rows]:
        """Every list of rows."""
        for group in self.groups:
            if group.rows:
                yield group.rows
