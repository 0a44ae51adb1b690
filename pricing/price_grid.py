"""The prices that are allowed: every whole k gives k·step + offset, above zero."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from pricing.errors import InvalidInput
from pricing.money import ZERO, Currency, grid_ceiling
from pricing.price_book.selling import Rounding


@dataclass(frozen=True, slots=True)
class Grid:
    """The allowed prices [currency]; ``first`` is the lowest of them."""

    step: Decimal
    offset: Decimal
    first: Decimal

    def at_least(self, value: Decimal) -> Decimal:
        """The lowest allowed price that is not under ``value`` [currency]."""
        return max(self.first, grid_ceiling(value, self.step, self.offset))


def grid_of(rounding: Rounding | None, currency: Currency) -> Grid:
    """The grid of a policy; without one, every minor unit.

    Raises:
        InvalidInput: a grid that is not in whole minor units.
    """
    minor = currency.step
    if rounding is None:
        return Grid(minor, ZERO, minor)
    step, offset = rounding.step, rounding.offset
    if step <= ZERO or step % minor or offset % minor:
        raise InvalidInput(
            f"prices in steps of {step:f} from {offset:f} are not whole in "
            f"{currency.code}; use multiples of {minor:f}, the step above 0",
            path=("rounding",),
        )
    return Grid(step, offset, grid_ceiling(minor, step, offset))
