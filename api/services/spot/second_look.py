"""A second look at a price that a person is about to enter.

By hand anything may be entered, for a person knows what they see. But a figure read
off in another unit, or with its mark in the wrong place, is told before it counts.
"""

from __future__ import annotations

from decimal import Decimal

from api.ports import SpotEntry
from pricing import money
from pricing.spot_reading import Limits, is_price
from pricing.unit_slip import unit_slips

JUMP = Limits().jump
"""Largest change that passes unasked, as for a feed that sets none [share]."""
_TENTH = Decimal("0.1")


def doubts(price: Decimal, last: SpotEntry) -> tuple[str, ...]:
    """What is doubtful about a price, in sentences; nothing where it looks right.

    Args:
        price: as it was typed [currency of ``last``].
        last: the price that is in force.
    """
    usual = last.price
    if not is_price(price) or not is_price(usual):
        return ()
    with money.arithmetic():
        slips = unit_slips(price, usual=usual)
        apart = abs(price - usual) / usual
        far = money.shown(apart * 100, _TENTH)
    said = f"{money.brief(price)} {last.currency}"
    in_force = f"the {money.brief(usual)} in force"
    if slips:
        likely = ", or ".join(slips)
        return (f"{said} is far from {in_force} and looks like {likely}.",)
    if apart <= JUMP:
        return ()
    way = "above" if price > usual else "below"
    most = f"a change of at most {money.percent(JUMP)} passes unasked"
    return (f"{said} is {far} % {way} {in_force}; {most}.",)
