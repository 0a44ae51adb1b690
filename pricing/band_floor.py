"""How far silver may rise before the first size of a band costs more than it bears."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal

from pricing.metal_line import MetalLine, crossings
from pricing.near_highest import NearHighest


def spot_at_level(
    lines: Sequence[MetalLine], level: Decimal, *, near: NearHighest, spot: Decimal
) -> Decimal | None:
    """The lowest spot from ``spot`` up at which one of the lines reaches ``level``.

    The highest of the lines is convex in the spot. From a spot at which some line
    is at the level, the highest there is followed down to where it is at the
    level, until no other line is above it: every step goes down, and no line is
    taken twice.

    Args:
        lines: costs against spot [currency], with one kink in common or none.
        level: the cost looked for [currency].
        near: the same lines, to find the highest quickly.
        spot: today's [currency/ozt].

    Returns:
        The spot, exact on the line [currency/ozt]. None where a line is above the
        level already, or none ever reaches it.
    """
    highest = _highest(lines, near, spot)
    if highest.at(spot) > level:
        return None
    found = crossings(highest, target=level, spot=spot).above
    if found is None:
        steepest = max(lines, key=_last_slope)
        found = crossings(steepest, target=level, spot=spot).above
    while found is not None:
        highest = _highest(lines, near, found)
        nearer = crossings(highest, target=level, spot=spot).above
        if nearer is None or nearer >= found:
            break
        found = nearer
    return found


def _highest(lines: Sequence[MetalLine], near: NearHighest, spot: Decimal) -> MetalLine:
    return max((lines[place] for place in near.at(spot)), key=lambda x: x.at(spot))


def _last_slope(line: MetalLine) -> Decimal:
    return line.slope if line.slope_above is None else line.slope_above
