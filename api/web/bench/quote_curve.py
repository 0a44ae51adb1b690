"""Cost against spot, and what the price leaves for it, as the corners of two lines.

While a price is worked out the exact line is at hand. A quote that was kept tells
what its cost was that day, its slope, and where it meets what the price leaves: the
line is drawn between these alone, and the cost, convex with at most one bend, is bent
where they say it is.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from api.web.charts import Curve, Point
from pricing.metal_line import MetalLine
from pricing.money import arithmetic

_FARTHEST = 8
"""Break-evens farther than so many times today's spot are told in words alone."""
_UNDER, _OVER = Decimal("0.6"), Decimal("1.12")
"""How far the picture goes beyond what is known, in times of it."""
_ROUNDED = Decimal("0.015")
"""By how much displayed figures miss the exact line [currency]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SpotMark:
    """A spot at which the margin is at its floor, or gone [currency/ozt]."""

    name: str
    spot: Decimal
    above: bool


def spot_marks(line: Mapping[str, Any]) -> tuple[SpotMark, ...]:
    """The break-evens of an estimate's document, nearest first on each side."""
    even = line["break_even"]
    told = (
        ("floor", "spot_at_floor", True),
        ("zero", "spot_at_zero", True),
        ("floor", "spot_at_floor_below", False),
        ("zero", "spot_at_zero_below", False),
    )
    return tuple(
        SpotMark(name=name, spot=even[member], above=above)
        for name, member, above in told
        if even[member] is not None
    )


def curve_of(line: Mapping[str, Any], exact: MetalLine | None = None) -> Curve | None:
    """Both lines of a piece; None where the cost does not hang on the spot.

    Args:
        line: the document of an estimate with its figures read back.
        exact: cost of one good piece against spot [currency], where it is at hand.
    """
    if line["spot"] is None or not line["cost"]["slope_per_spot"]:
        return None
    with arithmetic():
        levels = _levels(line)
        today = (line["spot"]["price"], line["cost"]["per_piece"])
        marks = [
            (mark.spot, levels[mark.name])
            for mark in spot_marks(line)
            if mark.spot <= _FARTHEST * today[0]
        ]
        known = sorted({today, *marks})
        if exact is not None:
            cost = _corners(exact, known)
        elif len(known) > 1:
            cost = _between(today, line["cost"]["slope_per_spot"], known)
        else:
            return None
        price = [(across, levels["zero"]) for across in (cost[0][0], cost[-1][0])]
        return Curve(cost=cost, price=price, marks=marks)


def _levels(line: Mapping[str, Any]) -> dict[str, Decimal]:
    """What a piece may cost at which the margin is gone, and at its floor."""
    pieces, price = line["wish"]["quantity"], line["price"]
    margin = line["margin"]
    left = margin["amount"] + price["cost"]
    return {
        "zero": left / pieces,
        "floor": (left - margin["floor"] * price["net"]) / pieces,
    }


def _corners(exact: MetalLine, known: Sequence[Point]) -> list[Point]:
    """The corners of the exact line, from well under the least spot that is known."""
    ends = [known[0][0] * _UNDER, known[-1][0] * _OVER]
    inside = [x for x, _ in known if x not in ends]
    if exact.kink is not None and ends[0] < exact.kink < ends[1]:
        inside.append(exact.kink)
    return [(x, exact.at(x)) for x in sorted({*ends, *inside})]


def _between(today: Point, slope: Decimal, known: Sequence[Point]) -> list[Point]:
    """The corners between the least spot that is known and the greatest."""
    at = known.index(today)
    left = _outward(today, slope, known[:at][::-1])
    right = _outward(today, slope, known[at + 1 :])
    return [*left[:0:-1], *right]


def _outward(today: Point, slope: Decimal, known: Sequence[Point]) -> list[Point]:
    """Today and what is known to one side of it, with the bend where there is one."""
    found = [today]
    for place, point in enumerate(known):
        missed = point[1] - (today[1] + slope * (point[0] - today[0]))
        beyond = known[place + 1 :]
        if abs(missed) > _ROUNDED and place == 0 and beyond:
            other = _slope(point, beyond[0])
            if other != slope:
                across = point[0] - missed / (other - slope)
                found.append((across, today[1] + slope * (across - today[0])))
        found.append(point)
    return found


def _slope(one: Point, other: Point) -> Decimal:
    return (other[1] - one[1]) / (other[0] - one[0])
