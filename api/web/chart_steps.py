"""A bridge of amounts as bars that stand on one another."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from pricing.money import ZERO

BARS = ("base", "rise", "fall", "whole")
"""Kinds of bar: what carries another and is not seen; more; less; a sum."""

Heights = dict[tuple[str, bool], list[float]]


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """One row of a bridge.

    Attributes:
        label: what it is and how much, as the reader is to see it.
        amount: what it adds [currency]; of a sum, what it comes to.
        whole: whether it is a sum that stands on the ground.
    """

    label: str
    amount: Decimal
    whole: bool = False


def stacked(steps: Sequence[Step]) -> Heights:
    """How long the bars are, row by row [currency].

    Returns:
        (kind of bar, whether under zero) → one length a step, negative under zero.

    >>> from decimal import Decimal
    >>> steps = [
    ...     Step(label="planned", amount=Decimal(10), whole=True),
    ...     Step(label="price", amount=Decimal(-4)),
    ... ]
    >>> bars = stacked(steps)
    >>> bars["whole", False], bars["base", False], bars["fall", False]
    ([10.0, 0.0], [0.0, 6.0], [0.0, 4.0])
    """
    bars: Heights = {
        (kind, below): [0.0] * len(steps) for kind in BARS for below in (False, True)
    }
    reached = ZERO
    for row, step in enumerate(steps):
        begun = ZERO if step.whole else reached
        reached = begun + step.amount
        _lay(bars, row, _kind(step), sorted((begun, reached)))
    return bars


def _kind(step: Step) -> str:
    if step.whole:
        return "whole"
    return "fall" if step.amount < ZERO else "rise"


def _lay(bars: Heights, row: int, kind: str, ends: list[Decimal]) -> None:
    """Put the bar between two ends: on a base, or to both sides of zero."""
    low, high = ends
    bars["base", False][row] = float(max(low, ZERO))
    bars["base", True][row] = float(min(high, ZERO))
    bars[kind, False][row] = float(max(high, ZERO) - max(low, ZERO))
    bars[kind, True][row] = float(min(low, ZERO) - min(high, ZERO))
