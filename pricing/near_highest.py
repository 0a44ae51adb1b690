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
from typing import NamedTuple

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


class _Stretch(NamedTuple):
    """Spots from ``low`` to ``high`` at which no line but one may be the highest."""

    low: Decimal
    high: Decimal
    within: float
    places: tuple[int, ...]


_NOWHERE = _Stretch(Decimal(1), ZERO, 0.0, ())


class NearHighest:
    """Lines that bend at one and the same spot, as those of one coin do.

    Where only one was found it is remembered how far it stays the only one, so that
    spots near each other cost next to nothing.
    """

    __slots__ = ("_above", "_below", "_doubt", "_kink", "_known")

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
        self._known = _NOWHERE

    def at(self, price: Decimal, *, within: float = 0.0) -> tuple[int, ...]:
        """Places of the lines that may be the highest at ``price`` [currency/ozt].

        Args:
            price: where to look, 0 or more.
            within: keep those that may be within this of the highest [currency].
        """
        known = self._known
        if known.low <= price <= known.high and known.within == within:
            return known.places
        spot = float(price)
        lines = self._below if spot <= self._kink else self._above
        pairs = zip(lines.bases, lines.slopes, strict=True)
        values = [base + slope * spot for base, slope in pairs]
        base, slope = self._doubt
        least = max(values) - within - base - slope * spot
        found = tuple(place for place, value in enumerate(values) if value >= least)
        if len(found) == 1:
            self._known = self._around(spot, found, within)
        return found

    def _around(self, spot: float, found: tuple[int, ...], within: float) -> _Stretch:
        """How far the only line stays ahead of every other by more than the doubt.

        Its lead over another is a straight line too. The doubt is thousands of times
        what the end of the lead, worked out in floating point, can be wrong by.
        """
        below = spot <= self._kink
        lines = self._below if below else self._above
        low, high = (0.0, self._kink) if below else (self._kink, inf)
        [place] = found
        ahead = lines.bases[place] - within - self._doubt[0]
        steeper = lines.slopes[place] - self._doubt[1]
        for other, base in enumerate(lines.bases):
            lead, gain = ahead - base, steeper - lines.slopes[other]
            if other == place or not gain:
                continue
            end = -lead / gain
            low, high = (max(low, end), high) if gain > 0 else (low, min(high, end))
        return _Stretch(Decimal(low), Decimal(high), within, found)


def _beyond(lines: Sequence[MetalLine]) -> Iterator[tuple[Decimal, Decimal]]:
    """Each line above its kink, drawn out to a spot of zero."""
    for line in lines:
        kink, slope = line.kink or ZERO, line.slope_above or ZERO
        yield line.at(kink) - slope * kink, slope
