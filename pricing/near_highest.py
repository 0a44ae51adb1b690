"""Which of many cost lines may be the highest at a spot, found quickly.

Binary floating point only rules out lines that are lower by far more than it can
be wrong; what is left is for exact arithmetic to settle.
"""

from __future__ import annotations

from array import array
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from decimal import Decimal
from math import inf

from pricing.metal_line import MetalLine
from pricing.money import ZERO

_DOUBT = 1e-12
"""Far above the few parts in 10^16 that such a sum is wrong by [fraction]."""


@dataclass(frozen=True, slots=True)
class _Floats:
    """Bases and slopes of straight lines, as small as they can be kept."""

    bases: array[float]
    slopes: array[float]

    @classmethod
    def of(cls, pairs: Iterable[tuple[Decimal, Decimal]]) -> _Floats:
        exact = list(pairs)
        return cls(
            array("d", [float(base) for base, _ in exact]),
            array("d", [float(slope) for _, slope in exact]),
        )


class NearHighest:
    """Lines that bend at one and the same spot, as those of one coin do."""

    __slots__ = ("_above", "_below", "_doubt", "_kink")

    def __init__(self, lines: Sequence[MetalLine]) -> None:
        """Take the lines in their order; all have the same kink or none."""
        kink = lines[0].kink
        self._kink = inf if kink is None else float(kink)
        self._below = _Floats.of((line.base, line.slope) for line in lines)
        self._above = self._below if kink is None else _Floats.of(_beyond(lines))
        both = (self._below, self._above)
        self._doubt = (
            _DOUBT * max(max(map(abs, floats.bases)) for floats in both),
            _DOUBT * max(max(map(abs, floats.slopes)) for floats in both),
        )

    def at(self, price: Decimal, *, within: float = 0.0) -> list[int]:
        """Places of the lines that may be the highest at ``price`` [currency/ozt].

        Args:
            price: where to look, 0 or more.
            within: keep those that may be within this of the highest [currency].
        """
        spot = float(price)
        lines = self._below if spot <= self._kink else self._above
        pairs = zip(lines.bases, lines.slopes, strict=True)
        values = [base + slope * spot for base, slope in pairs]
        base, slope = self._doubt
        least = max(values) - within - base - slope * spot
        return [place for place, value in enumerate(values) if value >= least]


def _beyond(lines: Sequence[MetalLine]) -> Iterator[tuple[Decimal, Decimal]]:
    """Each line above its kink, drawn out to a spot of zero."""
    for line in lines:
        kink, slope = line.kink or ZERO, line.slope_above or ZERO
        yield line.at(kink) - slope * kink, slope
