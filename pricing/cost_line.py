"""A cost line before it is presented: exact, against spot, with its explanation."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from decimal import Decimal

from pricing.metal_line import MetalLine
from pricing.spot import Spot


@dataclass(frozen=True, slots=True)
class ExactLine:
    """One cost of one good piece.

    Attributes:
        kind: one of the kinds of cost line.
        label: what it is, for a person.
        line: amount against spot, unrounded [currency].
        how: the arithmetic in one line, once the spot is known.
    """

    kind: str
    label: str
    line: MetalLine
    how: Callable[[Spot | None], str]

    @classmethod
    def fixed(cls, kind: str, label: str, amount: Decimal, words: str) -> ExactLine:
        """A line that does not depend on spot; ``amount`` [currency]."""
        return cls(kind, label, MetalLine.constant(amount), lambda _: words)
