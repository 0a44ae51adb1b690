"""Markup on cost and margin on net: two names for one gap, kept apart.

A rate of 0.12 is 12 %.

References:
    [1] OpenStax, Contemporary Mathematics, section 6.2: markup is on cost. The
        two identities are checked against published figures in tests/reference.
"""

from __future__ import annotations

from decimal import Decimal

from pricing.errors import InvalidInput
from pricing.money import ONE


def exact_percent(rate: Decimal) -> str:
    """A ``rate`` [fraction] as a person writes it, every digit kept.

    >>> exact_percent(Decimal("0.0190")), exact_percent(Decimal("0.20"))
    ('1.9 %', '20 %')
    """
    return f"{(rate * 100).normalize():f} %"


def markup_of_margin(margin: Decimal) -> Decimal:
    """Markup on cost for a ``margin`` on net [fraction]: margin ÷ (1 − margin).

    Raises:
        InvalidInput: a margin of 1 or more, which no price has while goods cost.

    >>> markup_of_margin(Decimal("0.5"))
    Decimal('1')
    """
    if margin >= ONE:
        raise InvalidInput(
            f"a margin of {exact_percent(margin)} leaves nothing for the cost; "
            "use one under 100 %",
            path=("margin",),
        )
    return margin / (ONE - margin)


def margin_of_markup(markup: Decimal) -> Decimal:
    """Margin on net of a ``markup`` on cost [fraction]: markup ÷ (1 + markup).

    Raises:
        InvalidInput: a markup of −1 or less, at which nothing is paid.

    >>> margin_of_markup(Decimal("0.6"))
    Decimal('0.375')
    """
    if markup <= -ONE:
        raise InvalidInput(
            f"a markup of {exact_percent(markup)} gives the goods away; "
            "use one above -100 %",
            path=("markup",),
        )
    return markup / (ONE + markup)
