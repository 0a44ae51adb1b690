"""How far silver may rise before the first size of a band costs more than it bears."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal
from functools import partial

from pricing.metal_line import MetalLine, crossing_above
from pricing.money import ZERO
from pricing.near_highest import NearHighest


def spot_at_level(
    lines: Sequence[MetalLine],
    level: Decimal,
    *,
    highest: MetalLine,
    near: NearHighest,
    spot: Decimal,
) -> Decimal | None:
    """The lowest spot from ``spot`` up at which one of the lines reaches ``level``.

    The highest of the lines is convex in the spot. From a spot at which some line
    is at the level, the highest there is followed down to where it is at the
    level, until no other line is above it: every step goes down, and no line is
    taken twice.

    Args:
        lines: costs against spot [currency], with one kink in common or none.
        level: the cost looked for [currency].
        highest: the highest of them at ``spot``.
        near: the same lines, to find the highest quickly.
        spot: today's [currency/ozt].

    Returns:
        The spot, exact on the line [currency/ozt]. None where a line is above the
        level already, or none ever reaches it.
    """
    if highest.at(spot) > level:
        return None
    followed = highest
    found = _above(followed, level, spot)
    if found is None:
        followed = max(lines, key=_last_slope)
        found = _above(followed, level, spot)
    while found is not None:
        tops = [lines[i] for i in near.at(found)]
        if len(tops) == 1 and tops[0] is followed:
            break
        top = max(tops, key=partial(MetalLine.at, spot=found))
        nearer = None if top is followed else _above(top, level, spot)
        if nearer is None or nearer >= found:
            break
        followed, found = top, nearer
    return found


def _above(line: MetalLine, level: Decimal, spot: Decimal) -> Decimal | None:
    if line.kink is not None:
        return crossing_above(line, target=level, spot=spot)
    # As `crossing_above` has it for a straight line, without a list of solutions.
    if not line.slope:
        return None
    found = (level - line.base) / line.slope
    return found if found >= spot and found > ZERO else None


def _last_slope(line: MetalLine) -> Decimal:
    return line.slope if line.slope_above is None else line.slope_above
