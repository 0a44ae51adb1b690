"""Whether a fetched price may count: every doubt is named, none is passed over.

A reading is judged by its own figures, the clock it is given, the prices that
were accepted before and, where there is one, a second source. Each doubt is a
finding with a code and a sentence for the maker; the gravest of them decides:

- ``refuse``: the figure is wrong or useless as it stands; mend the feed.
- ``ignore``: nothing new; what is in force stays.
- ``hold``: it may be right; a person accepts or rejects it.
- ``warn``: it counts, and the maker should look.

A price that is off by just the factor between two units is refused and not
held, because accepting it would put every ring out by that factor; the answer
is a change of the feed's unit, not a click. If it is the price before that was
wrong, one entered by hand sets the measure right.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from datetime import datetime
from decimal import Decimal

from pricing.market_days import MarketCalendar, aware
from pricing.money import arithmetic
from pricing.spot_checks import (
    Case,
    against_the_last,
    bid_and_ask,
    from_the_future,
    frozen,
    not_a_price,
    nothing_new,
    nothing_to_compare,
    outside_band,
    second_source,
    too_old,
)
from pricing.spot_reading import (
    Finding,
    History,
    Limits,
    Outcome,
    Reading,
    Verdict,
    Weight,
    is_price,
)

__all__ = [
    "CODES",
    "Finding",
    "History",
    "Limits",
    "Outcome",
    "Reading",
    "Verdict",
    "Weight",
    "is_price",
    "judge",
]

CODES = (
    "not_a_price",
    "outside_band",
    "bid_over_ask",
    "spread_too_wide",
    "from_the_future",
    "too_old",
    "older_than_last",
    "already_known",
    "unit_looks_wrong",
    "jump",
    "second_source_disagrees",
    "frozen",
    "nothing_to_compare",
)
"""Codes of findings, in the order in which a verdict lists them."""

_OUTCOMES: tuple[tuple[Weight, Outcome], ...] = (
    ("refuse", "refused"),
    ("ignore", "ignored"),
    ("hold", "held"),
)

_Check = Callable[[Case], Iterator[Finding]]
_OF_NO_PRICE: tuple[_Check, ...] = (from_the_future, too_old)
_OF_A_PRICE: tuple[_Check, ...] = (
    outside_band,
    bid_and_ask,
    from_the_future,
    too_old,
    nothing_new,
    against_the_last,
    second_source,
    frozen,
    nothing_to_compare,
)


def judge(  # noqa: PLR0913 - everything a verdict hangs on, by name
    reading: Reading,
    *,
    now: datetime,
    limits: Limits,
    history: History,
    calendar: MarketCalendar,
    second: Decimal | None = None,
) -> Verdict:
    """What becomes of ``reading``: the gravest finding decides.

    Args:
        reading: in the currency of ``limits`` and ``history``.
        now: the moment of judging, with its offset from UTC.
        limits: how far it may go.
        history: what was accepted before.
        calendar: the market days its age is counted in.
        second: the price of another source [currency/unit], or None.

    Raises:
        InvalidInput: ``now`` without its offset.
    """
    case = Case(
        reading=reading,
        now=aware(now),
        limits=limits,
        history=history,
        calendar=calendar,
        second=second,
    )
    with arithmetic():
        findings = tuple(not_a_price(case))
        checks = _OF_NO_PRICE if findings else _OF_A_PRICE
        findings += tuple(found for check in checks for found in check(case))
    weights = {finding.weight for finding in findings}
    outcomes = (outcome for weight, outcome in _OUTCOMES if weight in weights)
    return Verdict(outcome=next(outcomes, "accepted"), findings=findings)
