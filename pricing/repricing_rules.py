"""What to do about a price that the metal has left behind, with the reason in words.

The order of the questions: is the margin under its floor; is the change worth
making; may the price go down; is the change larger than anybody should make
without looking.
"""

from __future__ import annotations

from decimal import Decimal
from typing import Literal, NamedTuple

from pricing import money
from pricing.markup import exact_percent
from pricing.price_book import Policy
from pricing.sale import Taken

Decision = Literal["hold", "raise", "lower", "review", "locked", "blocked"]
"""What becomes of a price. Whoever keeps the listings says ``locked`` and, where a
band cannot be priced, ``blocked``; the rest is said here."""


_PERMILLE = Decimal("0.001")
_MOST_KEPT = 4096


class Shown(NamedTuple):
    """A price and its margin at the cost of one size [currency].

    Attributes:
        unit: the price.
        net: without tax.
        margin: what is left of it.
        rate: margin over net [fraction], at 0.0001; None for a net of zero.
        before_cost: margin before the cost of the piece.
    """

    unit: Decimal
    net: Decimal
    margin: Decimal
    rate: Decimal | None
    before_cost: Decimal

    @classmethod
    def of(cls, taken: Taken, cost: Decimal) -> Shown:
        """The price in ``taken``, whose margin is before ``cost`` [currency]."""
        margin = taken.margin - cost
        rate = money.half_up(margin / taken.net, money.RATE_STEP) if taken.net else None
        return cls(taken.unit, taken.net, margin, rate, taken.margin)

    def keeps(self, floor: Decimal) -> bool:
        """Whether margin ≥ ``floor`` [fraction] × net, before any rounding."""
        return self.margin >= floor * self.net

    def bearable_cost(self, floor: Decimal) -> Decimal:
        """The cost [currency] at which margin is exactly ``floor`` × net."""
        return self.before_cost - floor * self.net


class Judged(NamedTuple):
    """What to do about a price.

    Attributes:
        new_price: the price after it [currency]; the current one on hold. A
            ``review`` has it only when a person says so.
        asked: what the rules ask for, whatever the decision [currency].
        old_margin: margin over net at the current price and today's spot
            [fraction], at 0.0001; None for a net of zero.
        new_margin: the same at ``new_price``.
        decision: hold, raise, lower or review.
        reason: why, for a maker.
        spot_at_floor: the spot, not under today's, at which the current price
            falls to the floor [currency/ozt], unrounded; None where it is under
            it already, or never falls to it.
    """

    new_price: Decimal
    asked: Decimal
    old_margin: Decimal | None
    new_margin: Decimal | None
    decision: Decision
    reason: str
    spot_at_floor: Decimal | None


class RepricingRules:
    """The questions of one policy, each answered once for the same prices.

    A shop has far fewer prices than bands. A few thousand answers are kept at most;
    nothing of it can change what is answered.
    """

    __slots__ = ("_kept", "policy")

    def __init__(self, policy: Policy) -> None:
        """Take floor, dead band, largest step, and whether prices may go down."""
        self.policy = policy
        self._kept: dict[tuple[object, ...], tuple[Decision, str]] = {}

    def judged(
        self, now: Shown, asked: Shown, *, spot_at_floor: Decimal | None
    ) -> Judged:
        """Decide between the price there is and the price the rules ask for.

        Args:
            now: the current price at today's spot, in whole minor units.
            asked: the price the rules ask for at today's spot, likewise.
            spot_at_floor: passed on [currency/ozt].
        """
        decision, reason = self._decided(now, asked)
        after = now if decision == "hold" else asked
        return Judged(
            new_price=after.unit,
            asked=asked.unit,
            old_margin=now.rate,
            new_margin=after.rate,
            decision=decision,
            reason=reason,
            spot_at_floor=spot_at_floor,
        )

    def _decided(self, now: Shown, asked: Shown) -> tuple[Decision, str]:
        # The rate is told, and so counts, only where it is under the floor.
        told = "" if now.keeps(self.policy.floor_margin) else now.rate
        asked_for = (now.unit, asked.unit, told)
        decided = self._kept.get(asked_for)
        if decided is None:
            decided = _decide(self.policy, now, asked)
            if len(self._kept) >= _MOST_KEPT:
                self._kept.clear()
            self._kept[asked_for] = decided
        return decided


def _decide(policy: Policy, now: Shown, asked: Shown) -> tuple[Decision, str]:
    change = asked.unit - now.unit
    words = _words(now, change)
    if not now.keeps(policy.floor_margin):
        under = _under(policy, now)
        if change <= 0:
            return "hold", f"{under}, but the rules of this policy ask for no more"
        return _step(policy, now, change, f"{under}; {words}")
    inside = _inside(policy, now, change)
    if inside is not None:
        return "hold", f"{words}{inside}"
    if change < 0 and not policy.allow_lowering:
        return "hold", f"{words}, and this policy lowers no price"
    return _step(policy, now, change, words)


def _inside(policy: Policy, now: Shown, change: Decimal) -> str | None:
    """Why the change is not worth making, its edges included; None if it is."""
    band = policy.dead_band
    if not change:
        return ""
    if abs(change) <= band.amount:
        return f", inside the dead band of {band.amount:f}"
    if abs(change) <= band.share * now.unit:
        return f", inside the dead band of {exact_percent(band.share)}"
    return None


def _step(
    policy: Policy, now: Shown, change: Decimal, words: str
) -> tuple[Decision, str]:
    if abs(change) > policy.max_step * now.unit:
        most = exact_percent(policy.max_step)
        return "review", f"{words}, over the largest step of {most}"
    return "raise" if change > 0 else "lower", words


def _words(now: Shown, change: Decimal) -> str:
    if not change:
        return f"{now.unit:f} is still the price"
    which = "more" if change > 0 else "less"
    share = _percent(abs(change) / now.unit)
    return f"{now.unit + change:f} would be {abs(change):f} {which} ({share})"


def _under(policy: Policy, now: Shown) -> str:
    floor, rate = policy.floor_margin, now.rate
    allowed = exact_percent(floor)
    if rate is None:
        start = f"nothing of {now.unit:f} is left after tax, which is"
    elif money.half_up(rate, _PERMILLE) >= floor:
        start = f"the margin at {now.unit:f} would be just"
    else:
        start = f"the margin at {now.unit:f} would be {_percent(rate)},"
    return f"{start} under the floor of {allowed}"


def _percent(rate: Decimal) -> str:
    return money.percent(money.half_up(rate, _PERMILLE))
