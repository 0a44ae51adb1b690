"""The faults of a document while it is read, and how its values are quoted in them."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from decimal import Decimal
from difflib import get_close_matches

from pricing.errors import Fault, InvalidInput, Path
from pricing.money import exact_decimal

_SHOWN = 40
_ALIKE = 0.65


class Findings:
    """The faults of a document, in the order they were found."""

    def __init__(self) -> None:
        self._faults: list[Fault] = []

    @property
    def faults(self) -> tuple[Fault, ...]:
        """Everything found so far."""
        return tuple(self._faults)

    def add(self, path: Path, message: str) -> None:
        """Note one fault."""
        self._faults.append(Fault(path, message))

    def sound(self, *path: str | int) -> bool:
        """Whether nothing was found at this path or under it."""
        return not any(fault.path[: len(path)] == path for fault in self._faults)

    def readable(self, *path: str | int) -> bool:
        """Whether nothing was found at exactly this path."""
        return not any(fault.path == path for fault in self._faults)


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
    """The nearest known name as the end of a message, else ``otherwise`` or all.

    >>> suggestion("minuts", ["setup_minutes", "minutes"])
    "did you mean 'minutes'?"
    """
    names = tuple(known)
    near = get_close_matches(name[:_SHOWN], names, n=1, cutoff=_ALIKE)
    if near:
        return f"did you mean '{near[0]}'?"
    return otherwise or f"use one of: {', '.join(names) or 'none yet'}"


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
