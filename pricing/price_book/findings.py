"""The faults of a document while it is read, and how its values are quoted in them."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from decimal import Decimal
from difflib import get_close_matches

from pricing.errors import Fault, InvalidInput, Path
from pricing.money import exact_decimal
from pricing.price_book.limits import MOST_FAULTS

_SHOWN = 40
_ALIKE = 0.65
_NAMES_LISTED = 12


class Findings:
    """The faults of a document, in the order they were found.

    All of them, up to ``MOST_FAULTS``: a document with more is not worth the
    reading, and could be made to cost any amount of it.
    """

    def __init__(self) -> None:
        self._faults: list[Fault] = []
        self._at: set[Path] = set()
        self._under: set[Path] = set()

    @property
    def faults(self) -> tuple[Fault, ...]:
        """Everything found so far."""
        return tuple(self._faults)

    @property
    def full(self) -> bool:
        """Whether so much was found that looking on is of no use."""
        return len(self._faults) > MOST_FAULTS

    def add(self, path: Path, message: str) -> None:
        """Note one fault."""
        if self.full:
            return
        self._faults.append(Fault(path, message))
        self._at.add(path)
        self._under.update(path[:depth] for depth in range(len(path) + 1))
        if len(self._faults) == MOST_FAULTS:
            more = f"{MOST_FAULTS} faults are listed; mend them to see what is left"
            self._faults.append(Fault((), more))

    def sound(self, *path: str | int) -> bool:
        """Whether nothing was found at this path or under it."""
        return path not in self._under

    def readable(self, *path: str | int) -> bool:
        """Whether nothing was found at exactly this path."""
        return path not in self._at


def shown(value: object) -> str:
    """A value from a document as a message may quote it, short and printable."""
    if isinstance(value, str):
        return repr(value[:_SHOWN])
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, int | Decimal):
        # An int of thousands of digits has no str(), but a Decimal of it has.
        return str(Decimal(value))[:_SHOWN]
    if isinstance(value, Mapping):
        return "a table"
    return "a list" if isinstance(value, list | tuple) else repr(value)[:_SHOWN]


def suggestion(name: str, known: Iterable[str], *, otherwise: str = "") -> str:
    """The nearest known name as the end of a message, else ``otherwise`` or some.

    >>> suggestion("minuts", ["setup_minutes", "minutes"])
    "did you mean 'minutes'?"
    """
    names = tuple(known)
    near = get_close_matches(name[:_SHOWN], names, n=1, cutoff=_ALIKE)
    if near:
        return f"did you mean '{near[0]}'?"
    listed = ", ".join(names[:_NAMES_LISTED]) or "none yet"
    more = ", …" if len(names) > _NAMES_LISTED else ""
    return otherwise or f"use one of: {listed}{more}"


def exact(value: object) -> Decimal:
    """An exact figure from a document: plain text, a whole number or a Decimal.

    Raises:
        InvalidInput: anything else; floats are sent to be written in quotes.
    """
    if isinstance(value, float):
        raise InvalidInput(f'{value!r} is not exact; write it in quotes: "{value!r}"')
    if isinstance(value, int) and not isinstance(value, bool):
        value = Decimal(value)
    if isinstance(value, Decimal) and abs(value.adjusted()) > _SHOWN:
        value = str(value)  # spelling such an exponent out could fill the memory
    if isinstance(value, str | Decimal):
        return exact_decimal(value)
    raise InvalidInput(f'{shown(value)} is not a number; write it like "27.50"')
