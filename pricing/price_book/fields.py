"""Reading one table of a document: every fault is noted with its path, none raised.

A member at fault is read as a stand-in, so that the rest can still be read and
checked; the caller throws the result away when anything was found.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Callable, Mapping
from decimal import Decimal
from types import MappingProxyType
from typing import TypeVar

from pricing.errors import InvalidInput, Path
from pricing.money import ZERO
from pricing.price_book.findings import Findings, exact, shown, suggestion
from pricing.price_book.limits import MOST_CHARACTERS, MOST_ENTRIES, Limits

_T = TypeVar("_T")
_S = TypeVar("_S", bound=str)

_KEY = re.compile(r"[a-z0-9][a-z0-9_]{0,39}")
# Controls, invisible format marks, lone surrogates, line and paragraph separators:
# none of them prints, and some break storage or turn text round.
_UNPRINTABLE = frozenset({"Cc", "Cf", "Cs", "Zl", "Zp"})


class Fields:
    """One table of a document: its members by name, and the faults they have."""

    def __init__(
        self, members: Mapping[str, object], *, path: Path, findings: Findings
    ) -> None:
        self._members = members
        self._path = path
        self._findings = findings
        self._known: list[str] = []

    def given(self, name: str) -> bool:
        """Whether the member is there; null counts as left out."""
        return self._members.get(name) is not None

    def sound(self, *where: str | int) -> bool:
        """Whether the member at ``where`` has no fault, nor anything in it."""
        return self._findings.sound(*self._path, *where)

    def fault(self, message: str, *where: str | int) -> None:
        """Note a fault of the member at ``where``, or of the whole table."""
        self._findings.add((*self._path, *where), message)

    def peek(self, name: str) -> object:
        """The member as it stands, None where left out; its name becomes known."""
        if name not in self._known:
            self._known.append(name)
        return self._members.get(name)

    def text(self, name: str, *, default: str | None = None) -> str:
        """A line of text; without a default it must be there and not be blank."""
        value = self.peek(name)
        if value is None:
            return self._left_out(name, default, stand_in="")
        if not isinstance(value, str):
            self.fault(f"{shown(value)} is not text; write it in quotes", name)
        elif len(value) > MOST_CHARACTERS:
            most = f"{len(value)} characters are too many; use at most"
            self.fault(f"{most} {MOST_CHARACTERS}", name)
        elif any(unicodedata.category(sign) in _UNPRINTABLE for sign in value):
            self.fault(f"{shown(value)} holds signs that do not print", name)
        elif default is None and not value.strip():
            self.fault("this text is empty; write something a person can read", name)
        else:
            return value
        return ""

    def key(self, name: str) -> str:
        """A key, which must be there; empty where it is at fault."""
        value = self.peek(name)
        if value is None:
            return self._left_out(name, None, stand_in="")
        return self._key(value, name)

    def keys(self, name: str) -> tuple[str, ...]:
        """A list of keys; empty where left out."""
        items = enumerate(self._list(name))
        return tuple(self._key(item, name, i) for i, item in items)

    def choice(self, name: str, allowed: tuple[_S, ...], *, default: _S) -> _S:
        """One of the words allowed."""
        value = self.peek(name)
        if value is None:
            return default
        for word in allowed:
            if value == word:
                return word
        words = ", ".join(f'"{word}"' for word in allowed)
        self.fault(f"{shown(value)} is not known here; use one of {words}", name)
        return default

    def flag(self, name: str, *, default: bool) -> bool:
        """True or false."""
        value = self.peek(name)
        if isinstance(value, bool):
            return value
        if value is not None:
            said = f"{shown(value)} is neither true nor false"
            self.fault(f"{said}; write one of them without quotes", name)
        return default

    def decimal(
        self, name: str, limits: Limits, *, default: Decimal | None = None
    ) -> Decimal:
        """An exact figure inside ``limits``, ``default`` [its own unit] if left out."""
        if self.peek(name) is None:
            return self._left_out(name, default, stand_in=ZERO)
        return self.optional_decimal(name, limits) or ZERO

    def optional_decimal(self, name: str, limits: Limits) -> Decimal | None:
        """An exact figure inside ``limits``, or None where left out or at fault."""
        value = self.peek(name)
        return None if value is None else self._decimal(value, limits, name)

    def decimals(self, name: str, limits: Limits) -> tuple[Decimal, ...]:
        """A list of exact figures, each inside ``limits``."""
        items = enumerate(self._list(name))
        return tuple(self._decimal(item, limits, name, i) or ZERO for i, item in items)

    def whole(self, name: str, limits: Limits, *, default: int | None = None) -> int:
        """A whole number inside ``limits``, ``default`` [count] if left out."""
        if self.peek(name) is None:
            return self._left_out(name, default, stand_in=0)
        return self.optional_whole(name, limits) or 0

    def optional_whole(self, name: str, limits: Limits) -> int | None:
        """A whole number inside ``limits``, or None where left out or at fault."""
        value = self.peek(name)
        if value is None:
            return None
        if isinstance(value, bool) or not isinstance(value, int):
            said = f"{shown(value)} is not a whole number"
            self.fault(f"{said}; write it without quotes or a point: 12", name)
        elif not limits.hold(Decimal(value)):
            self.fault(f"{shown(value)} is not allowed; it must be {limits}", name)
        else:
            return value
        return None

    def table(
        self, name: str, build: Callable[[Fields], _T], *, default: _T | None = None
    ) -> _T:
        """What ``build`` makes of a table; without a default it must be there."""
        value = self.peek(name)
        if value is not None:
            return built(value, build, path=(*self._path, name), into=self._findings)
        if default is None:
            self._left_out(name, None, stand_in="")
            return _stand_in(build)
        return default

    def optional_table(self, name: str, build: Callable[[Fields], _T]) -> _T | None:
        """What ``build`` makes of a table, or None where left out."""
        return self.table(name, build) if self.peek(name) is not None else None

    def tables(
        self, name: str, build: Callable[[Fields], _T], *, least: int = 0
    ) -> tuple[_T, ...]:
        """What ``build`` makes of each table of a list of ``least`` [count] or more."""
        items = self._list(name)
        if len(items) < least and self._findings.readable(*self._path, name):
            self.fault(f"at least {least} is needed here; add one", name)
        path = (*self._path, name)
        return tuple(
            built(item, build, path=(*path, i), into=self._findings)
            for i, item in enumerate(items)
        )

    def refuse_unknown(self) -> None:
        """Note every member that nothing has read."""
        if len(self._members) > MOST_ENTRIES:
            self.fault(f"{len(self._members)} members are too many for a table")
            return
        for name in self._members:
            if name not in self._known and not self._findings.full:
                said = f"{shown(name)} is not known here"
                self.fault(f"{said}; {suggestion(name, self._known)}", name)

    def _left_out(self, name: str, default: _T | None, *, stand_in: _T) -> _T:
        if default is not None:
            return default
        self.fault("this is missing; it has no default, so write it", name)
        return stand_in

    def _key(self, value: object, *where: str | int) -> str:
        if isinstance(value, str) and _KEY.fullmatch(value):
            return value
        self.fault(
            f"{shown(value)} is not a key; use a to z, 0 to 9 and _, "
            "beginning with a letter or digit, at most 40 of them",
            *where,
        )
        return ""

    def _decimal(
        self, value: object, limits: Limits, *where: str | int
    ) -> Decimal | None:
        try:
            number = exact(value)
        except InvalidInput as error:
            self.fault(f"{error.message}; allowed: {limits}", *where)
            return None
        if limits.hold(number):
            return number
        self.fault(f"{shown(number)} is not allowed; it must be {limits}", *where)
        return None

    def _list(self, name: str) -> tuple[object, ...]:
        value = self.peek(name)
        if value is None:
            return ()
        if not isinstance(value, list | tuple):
            self.fault(f"{shown(value)} is not a list; write a list here", name)
        elif len(value) > MOST_ENTRIES:
            most = f"{len(value)} entries are too many; use at most"
            self.fault(f"{most} {MOST_ENTRIES}", name)
        else:
            return tuple(value)
        return ()


def figures_by(
    allowed: tuple[str, ...], limits: Limits
) -> Callable[[Fields], Mapping[str, Decimal]]:
    """A reader of tables of figures under allowed names, in the order of those."""

    def read(table: Fields) -> Mapping[str, Decimal]:
        figures = ((name, table.optional_decimal(name, limits)) for name in allowed)
        return MappingProxyType({name: x for name, x in figures if x is not None})

    return read


def built(
    value: object, build: Callable[[Fields], _T], *, path: Path, into: Findings
) -> _T:
    """What ``build`` makes of a table, unknown members noted; a stand-in if none."""
    if not isinstance(value, Mapping):
        into.add(path, f"{shown(value)} is not a table; write its members by name")
        return _stand_in(build)
    if into.full:
        return _stand_in(build)
    fields = Fields(value, path=path, findings=into)
    result = build(fields)
    fields.refuse_unknown()
    return result


def _stand_in(build: Callable[[Fields], _T]) -> _T:
    return build(Fields({}, path=(), findings=Findings()))
