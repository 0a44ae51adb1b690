"""Which of many cost lines may be the highest at a spot, found quickly.

Binary floating point only rules out lines that are lower by far more than it can
be wrong; what is left is for exact arithmetic to settle.
"""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal
from math import inf

from pricing.metal_line import MetalLine

_DOUBT = 1e-12
"""Far above the few parts in 10^16 that such a sum is wrong by [fraction]."""


class NearHighest:
    """Lines that bend at one and the same spot, as those of one coin do."""

    __slots__ = ("_above", "_below", "_doubt", "_kink")

    def __init__(self, lines: Sequence[MetalLine]) -> None:
        """Take the lines in their order; all have the same kink or none."""
        kink = lines[0].kink
        self._kink = inf if kink is None else float(kink)
        self._below = [(float(line.base), float(line.slope)) for line in lines]
        self._above = [_above(line) for line in lines]
        both = self._below + self._above
        self._doubt = (
            _DOUBT * max(abs(base) for base, _ in both),
            _DOUBT * max(abs(slope) for _, slope in both),
        )

    def at(self, price: Decimal, *, within: float = 0.0) -> list[int]:
        """Places of the lines that may be the highest at ``price`` [currency/ozt].

        Args:
            price: where to look, 0 or more.
            within: keep those that may be within this of the highest [currency].
        """
        spot = float(price)
        lines = self._below if spot <= self._kink else self._above
        values = [base + slope * spot for base, slope in lines]
        base, slope = self._doubt
        least = max(values) - within - base - slope * spot
        return [place for place, value in enumerate(values) if value >= least]


def _above(line: MetalLine) -> tuple[float, float]:
    if line.kink is None or line.slope_above is None:
        return float(line.base), float(line.slope)
    at_zero = line.at(line.kink) - line.slope_above * line.kink
    return float(at_zero), float(line.slope_above)
