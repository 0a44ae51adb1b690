"""Standard-cost variances, signed as what they do to the margin: a loss is negative.

References:
    [1] OpenStax, Principles of Accounting, Volume 2: Managerial Accounting, ch. 8.2
        and 8.3: price and quantity variance of materials, rate and time variance of
        labour. Their published figures, and those of mix and yield, are held in
        tests/reference.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from pricing.money import ZERO


def price_variance(
    *, actual_price: Decimal, standard_price: Decimal, actual_quantity: Decimal
) -> Decimal:
    """What paying another price did [currency]: −(AP − SP) × AQ; see [1].

    Args:
        actual_price: what one unit did cost [currency/unit].
        standard_price: what it was to cost [currency/unit].
        actual_quantity: used [units].

    >>> price_variance(actual_price=Decimal(6), standard_price=Decimal(7),
    ...     actual_quantity=Decimal(20))
    Decimal('20')
    """
    return (standard_price - actual_price) * actual_quantity


def quantity_variance(
    *, actual_quantity: Decimal, standard_quantity: Decimal, standard_price: Decimal
) -> Decimal:
    """What using more or less did [currency]: −(AQ − SQ) × SP; see [1].

    Args:
        actual_quantity: used [units].
        standard_quantity: that was to be used [units].
        standard_price: of one unit [currency/unit].
    """
    return (standard_quantity - actual_quantity) * standard_price


def rate_variance(
    *, actual_rate: Decimal, standard_rate: Decimal, actual_hours: Decimal
) -> Decimal:
    """What paying another wage did [currency]: −(AR − SR) × AH; see [1].

    Args:
        actual_rate: wage that was paid [currency/h].
        standard_rate: wage that was planned [currency/h].
        actual_hours: worked [h].
    """
    return price_variance(
        actual_price=actual_rate,
        standard_price=standard_rate,
        actual_quantity=actual_hours,
    )


def efficiency_variance(
    *, actual_hours: Decimal, standard_hours: Decimal, standard_rate: Decimal
) -> Decimal:
    """What working longer or shorter did [currency]: −(AH − SH) × SR; see [1].

    Args:
        actual_hours: worked [h].
        standard_hours: that it was to take [h].
        standard_rate: wage [currency/h].
    """
    return quantity_variance(
        actual_quantity=actual_hours,
        standard_quantity=standard_hours,
        standard_price=standard_rate,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class MixedInput:
    """One of several materials that stand in for each other.

    Attributes:
        quantity: used [units].
        share: of the standard mix [fraction].
        price: standard [currency/unit].
    """

    quantity: Decimal
    share: Decimal
    price: Decimal


def mix_variance(inputs: Sequence[MixedInput]) -> Decimal:
    """What another mix of one total did [currency]: −Σ (AQ − total × share) × SP."""
    total = sum((each.quantity for each in inputs), ZERO)
    return sum(
        (
            quantity_variance(
                actual_quantity=each.quantity,
                standard_quantity=total * each.share,
                standard_price=each.price,
            )
            for each in inputs
        ),
        ZERO,
    )


def yield_variance(
    inputs: Sequence[MixedInput], *, output: Decimal, standard_yield: Decimal
) -> Decimal:
    """What another yield did [currency]: (output − input × yield) × cost of a unit.

    A unit of output costs Σ share × SP ÷ yield. A ring bench is the case of one
    input: coins in, good rings out.

    Args:
        inputs: what was used.
        output: good units that came of it [units].
        standard_yield: output for a unit of input, above 0 [fraction].
    """
    total = sum((each.quantity for each in inputs), ZERO)
    blend = sum((each.share * each.price for each in inputs), ZERO)
    return (output - total * standard_yield) * blend / standard_yield
