"""An amount as a function of spot: a straight line, or two that meet at a kink.

Coins bought by melt value cost more as spot rises, coins bought at a fixed
price do not, and recovered metal earns more, so every cost is a convex
piecewise-linear function of spot. Carrying the function instead of its value
answers "how far may silver move?" by division, without a search. One kink is
enough, because one order buys one kind of coin.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal

from pricing.errors import InvalidInput
from pricing.money import ZERO


@dataclass(frozen=True, slots=True, kw_only=True)
class MetalLine:
    """base + slope × spot up to the kink, then on from there with slope_above.

    Attributes:
        base: amount at a spot of zero [currency].
        slope: change for one unit of spot, below the kink [currency per currency/ozt].
        kink: spot at which the slope changes [currency/ozt], or None. A quotient,
            so carried at the precision of the Decimal context.
        slope_above: slope from the kink on, not under ``slope``; None without a kink.

    Raises:
        InvalidInput: only one of kink and slope_above, or a line bent downwards.

    >>> line = MetalLine.constant(Decimal(5)) + MetalLine.proportional(Decimal("0.6"))
    >>> line.at(Decimal("27.50"))
    Decimal('21.500')
    """

    base: Decimal
    slope: Decimal = ZERO
    kink: Decimal | None = None
    slope_above: Decimal | None = None

    def __post_init__(self) -> None:
        if (self.kink is None) != (self.slope_above is None):
            raise InvalidInput("a kink and the slope above it come together or not")
        if self.slope_above is not None and self.slope_above < self.slope:
            raise InvalidInput(
                f"slope {self.slope_above} above the kink is under the slope "
                f"{self.slope} below it; a cost line bends upwards only"
            )

    @classmethod
    def constant(cls, amount: Decimal) -> MetalLine:
        """The same ``amount`` [currency] at every spot."""
        return cls(base=amount)

    @classmethod
    def proportional(cls, slope: Decimal) -> MetalLine:
        """``slope`` × spot [currency]; negative for metal that is sold."""
        return cls(base=ZERO, slope=slope)

    def at(self, spot: Decimal) -> Decimal:
        """Amount [currency] at ``spot`` [currency/ozt]."""
        if self.kink is None or self.slope_above is None or spot <= self.kink:
            return self.base + self.slope * spot
        at_kink = self.base + self.slope * self.kink
        return at_kink + self.slope_above * (spot - self.kink)

    def slope_at(self, spot: Decimal) -> Decimal:
        """What the next unit of spot adds at ``spot`` [currency per currency/ozt].

        At the kink itself this is the slope above it.
        """
        if self.kink is None or self.slope_above is None or spot < self.kink:
            return self.slope
        return self.slope_above

    def __add__(self, other: MetalLine) -> MetalLine:
        """The line whose amount is the sum of both at every spot.

        Raises:
            InvalidInput: both have a kink, at different spots.
        """
        kink = other.kink if self.kink is None else self.kink
        if other.kink not in {None, kink}:
            raise _two_kinks(self.kink, other.kink)
        base, slope = self.base + other.base, self.slope + other.slope
        if kink is None:
            return MetalLine(base=base, slope=slope)
        above = self.slope_at(kink) + other.slope_at(kink)
        return MetalLine(base=base, slope=slope, kink=kink, slope_above=above)

    @classmethod
    def total(cls, lines: Iterable[MetalLine]) -> MetalLine:
        """The sum of all the lines: adding them one by one, only faster.

        Raises:
            InvalidInput: two of them have a kink, at different spots.
        """
        base = slope = above = ZERO
        kink = None
        for line in lines:
            base += line.base
            slope += line.slope
            above += line.slope if line.slope_above is None else line.slope_above
            if kink is None:
                kink = line.kink
            elif line.kink not in {None, kink}:
                raise _two_kinks(kink, line.kink)
        if kink is None:
            return cls(base=base, slope=slope)
        return cls(base=base, slope=slope, kink=kink, slope_above=above)

    def scaled(self, factor: Decimal) -> MetalLine:
        """The line times ``factor`` [fraction], which is not negative.

        Raises:
            InvalidInput: a negative factor, which would bend the line downwards.
        """
        if factor < ZERO:
            raise InvalidInput(
                f"factor {factor} is negative; scale by 0 or more, and sell metal "
                "as a line with a negative slope"
            )
        above = None if self.slope_above is None else self.slope_above * factor
        return MetalLine(
            base=self.base * factor,
            slope=self.slope * factor,
            kink=self.kink,
            slope_above=above,
        )


def _two_kinks(one: Decimal | None, other: Decimal | None) -> InvalidInput:
    return InvalidInput(
        f"lines with kinks at {one} and {other} do not add up to a line with one kink"
    )


def greater_of(fixed: Decimal, line: MetalLine) -> MetalLine:
    """The greater of a fixed amount [currency] and a straight line, at every spot.

    The kink is where they meet, (fixed − base) ÷ slope. Where they meet at no
    spot above zero, one of them is the greater throughout.

    Raises:
        InvalidInput: the line already has a kink.

    >>> paid_or_melt = greater_of(
    ...     Decimal("18.90"), MetalLine.proportional(Decimal("0.6"))
    ... )
    >>> paid_or_melt.kink, paid_or_melt.at(Decimal(20)), paid_or_melt.at(Decimal(40))
    (Decimal('31.5'), Decimal('18.90'), Decimal('24.00'))
    """
    if line.kink is not None:
        raise InvalidInput("the greater of an amount and a line needs a straight line")
    kink = (fixed - line.base) / line.slope if line.slope else ZERO
    if kink <= ZERO:
        # No meeting above zero: the order just above zero holds everywhere.
        line_is_greater = (line.base, line.slope) >= (fixed, ZERO)
        return line if line_is_greater else MetalLine.constant(fixed)
    if line.slope > ZERO:
        return MetalLine(base=fixed, kink=kink, slope_above=line.slope)
    return MetalLine(base=line.base, slope=line.slope, kink=kink, slope_above=ZERO)


@dataclass(frozen=True, slots=True, kw_only=True)
class Crossings:
    """Spots at which a line has a target amount, nearest to a given spot.

    Attributes:
        below: nearest one under the given spot [currency/ozt], or None.
        above: nearest one at or over the given spot [currency/ozt], or None.
    """

    below: Decimal | None
    above: Decimal | None


def crossings(line: MetalLine, *, target: Decimal, spot: Decimal) -> Crossings:
    """Where ``line`` is exactly ``target`` [currency], on each side of ``spot``.

    Solved on the line, piece by piece: kink + (target − amount at the kink) ÷
    slope. A line that only touches the target, at its kink, crosses it there.
    Where it lies along the target for a stretch, only the end of the stretch
    counts, which is the kink; a line that lies along the target everywhere
    crosses it nowhere.

    Args:
        line: the amount as a function of spot.
        target: the amount looked for [currency].
        spot: where to look from [currency/ozt].

    Returns:
        The crossings at spots above zero, with below < spot ≤ above.

    >>> cost = MetalLine(base=Decimal(40), slope=Decimal("0.5"))
    >>> crossings(cost, target=Decimal("55.20"), spot=Decimal("27.50"))
    Crossings(below=None, above=Decimal('30.4'))
    """
    found = [s for s in _solutions(line, target) if s > ZERO]
    return Crossings(
        below=max((s for s in found if s < spot), default=None),
        above=min((s for s in found if s >= spot), default=None),
    )


def crossing_above(
    line: MetalLine, *, target: Decimal, spot: Decimal
) -> Decimal | None:
    """The crossing of ``target`` [currency] at or over ``spot`` [currency/ozt] alone.

    As `crossings` has it, or None.
    """
    found = [s for s in _solutions(line, target) if s >= spot and s > ZERO]
    return min(found) if found else None


def _solutions(line: MetalLine, target: Decimal) -> list[Decimal]:
    # Measured from the kink, so that a target met at the kink is met exactly there.
    start = ZERO if line.kink is None else line.kink
    missing = target - line.at(start)
    found = []
    if line.slope:
        spot = start + missing / line.slope
        if line.kink is None or spot <= line.kink:
            found.append(spot)
    if line.slope_above:
        spot = start + missing / line.slope_above
        if spot >= start:
            found.append(spot)
    return found
