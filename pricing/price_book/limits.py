"""What a figure in a price book may be, and how that is said."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from pricing.money import ONE, ZERO

MOST_CHARACTERS = 200
"""Longest text in a book."""
MOST_ENTRIES = 200
"""Longest list and largest table in a book, so that no book can be a bomb."""

MOST_FAULTS = 1000
"""Faults listed at once."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Limits:
    """A range of allowed figures; a bound that is None is open.

    Attributes:
        least, most: bounds that are allowed themselves.
        over, under: bounds that are not.
        words: the range in words, where the bounds alone would not say it.
    """

    least: Decimal | None = None
    most: Decimal | None = None
    over: Decimal | None = None
    under: Decimal | None = None
    words: str = ""

    def hold(self, value: Decimal) -> bool:
        """Whether ``value`` [the unit of the bounds] is allowed.

        >>> SHARE.hold(Decimal("0.12")), SHARE.hold(Decimal(12))
        (True, False)
        """
        return (
            (self.least is None or value >= self.least)
            and (self.most is None or value <= self.most)
            and (self.over is None or value > self.over)
            and (self.under is None or value < self.under)
        )

    def __str__(self) -> str:
        if self.words:
            return self.words
        bounds = (
            ("at least", self.least),
            ("over", self.over),
            ("at most", self.most),
            ("under", self.under),
        )
        return " and ".join(
            f"{how} {bound}" for how, bound in bounds if bound is not None
        )


AMOUNT = Limits(least=ZERO)
POSITIVE = Limits(over=ZERO)
SIGNED = Limits(words="any amount")
SHARE = Limits(least=ZERO, most=ONE, words="at least 0 and at most 1 (0.12 means 12 %)")
PART = Limits(least=ZERO, under=ONE, words="at least 0 and under 1 (0.12 means 12 %)")
PREMIUM = Limits(
    over=-ONE, most=ONE, words="over -1 and at most 1 (0.12 means 12 % over melt)"
)
FACTOR = Limits(least=ZERO, most=Decimal(100))
QUANTILE = Limits(
    over=Decimal("0.5"), under=ONE, words='"mean", or over 0.5 and under 1'
)
CALIBRATION = Limits(least=Decimal("0.5"), most=Decimal(2))
LENGTH_MM = Limits(over=ZERO, most=Decimal(200))
SIZES = Limits(least=ZERO, most=Decimal(10))

COUNT = Limits(least=ZERO, most=Decimal(10**9))
COUNT_FROM_ONE = Limits(least=ONE, most=Decimal(10**9))
COUNT_FROM_TWO = Limits(least=Decimal(2), most=Decimal(10**9))
AGE_HOURS = Limits(over=ZERO, most=Decimal(8760))
WEEK_HOURS = Limits(over=ZERO, most=Decimal(168))
HOURS = Limits(least=ONE, most=Decimal(8760))
