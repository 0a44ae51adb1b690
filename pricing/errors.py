"""What can go wrong in a computation, said so that a maker can act on it.

Every message says what was given, what is allowed and what to do. ``path``
leads to the member at fault in the document that was given, as keys and
positions, so that any caller can point at it in its own way.
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

Path = tuple[str | int, ...]


@dataclass(frozen=True, slots=True)
class Fault:
    """One thing wrong with a document: where, and what to do about it."""

    path: Path
    message: str

    @property
    def dotted(self) -> str:
        """The path the way a person writes it.

        >>> Fault(("stages", 2, "minutes"), "…").dotted
        'stages[2].minutes'
        """
        text = ""
        for part in self.path:
            text += f"[{part}]" if isinstance(part, int) else f".{part}"
        return text.removeprefix(".")


class PricingError(Exception):
    """Base of everything this package raises on purpose."""

    code = "pricing_error"

    def __init__(self, message: str, *, path: Path = ()) -> None:
        super().__init__(message)
        self.message = message
        self.path = path

    @property
    def faults(self) -> tuple[Fault, ...]:
        """Every fault found, this one at least."""
        return (Fault(self.path, self.message),)

    def place(self, *where: str | int) -> None:
        """Say that the document at fault stands at ``where`` in a larger one.

        Every path, those of the faults too, is led there first; all else stays.

        >>> error = UnknownKey("no such channel", path=("channel",))
        >>> error.place("lines", 2)
        >>> error.faults[0].dotted
        'lines[2].channel'
        """
        self.path = (*where, *self.path)

    def begin(self, words: str) -> None:
        """Begin the message with ``words`` that say what it is about.

        >>> error = UnknownKey("no such channel")
        >>> error.begin("US 9.25: ")
        >>> str(error)
        'US 9.25: no such channel'
        """
        self.message = f"{words}{self.message}"
        self.args = (self.message,)


class InvalidInput(PricingError, ValueError):
    """A figure that is missing, malformed, out of range or at odds with another."""

    code = "invalid_input"

    def __init__(
        self, message: str, *, path: Path = (), faults: tuple[Fault, ...] = ()
    ) -> None:
        super().__init__(message, path=path)
        self._faults = faults

    @property
    def faults(self) -> tuple[Fault, ...]:
        """Every fault found, this one at least."""
        return self._faults or super().faults

    def place(self, *where: str | int) -> None:
        """Say that the document at fault stands at ``where`` in a larger one."""
        super().place(*where)
        self._faults = tuple(
            Fault((*where, *fault.path), fault.message) for fault in self._faults
        )


class BookRefused(InvalidInput):
    """A price book with faults; nothing of it is used."""

    code = "book_refused"


class UnknownKey(PricingError, LookupError):
    """A key that names nothing in the price book or the catalogue."""

    code = "unknown_key"


class NotMakeable(PricingError, ValueError):
    """A ring this coin cannot become, with the nearest one it can.

    Attributes:
        reason: short code of the limit that was met.
        nearest_size_us: nearest makeable finger size with the same hole
            [US number], or None.
        nearest_hole_mm: nearest makeable hole for the same size [mm], or None.
    """

    code = "not_makeable"

    def __init__(
        self,
        message: str,
        *,
        reason: str,
        nearest_size_us: Decimal | None = None,
        nearest_hole_mm: Decimal | None = None,
    ) -> None:
        super().__init__(message)
        self.reason = reason
        self.nearest_size_us = nearest_size_us
        self.nearest_hole_mm = nearest_hole_mm


class NoPossiblePrice(PricingError, ValueError):
    """A pricing rule that no price can meet, such as fees and margin above 100 %."""

    code = "no_possible_price"

    def __init__(self, message: str, *, rule: str) -> None:
        super().__init__(message)
        self.rule = rule
