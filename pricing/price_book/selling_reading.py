"""Reading the selling side of a price book, table by table."""

from __future__ import annotations

from decimal import Decimal
from itertools import pairwise

from pricing.money import ONE, ZERO
from pricing.price_book.fields import Fields, figures_by
from pricing.price_book.limits import (
    AGE_HOURS,
    AMOUNT,
    COUNT_FROM_TWO,
    FACTOR,
    HOURS,
    PART,
    POSITIVE,
    QUANTILE,
    SHARE,
    SIGNED,
)
from pricing.price_book.selling import (
    FEE_BASES,
    LINE_KINDS,
    AfterSale,
    Channel,
    DeadBand,
    Extra,
    Fee,
    Policy,
    QuantityBreak,
    Rounding,
    Shipping,
    StaleSpot,
    Tax,
)

_RULES = ("target_margin", "markup", "multipliers", "min_hourly", "min_price")
_BY_KIND = figures_by(LINE_KINDS, FACTOR)


def read_after_sale(table: Fields) -> AfterSale:
    """Exchanges and remakes."""
    return AfterSale(
        rate=table.decimal("rate", SHARE, default=ZERO),
        share=table.decimal("share", SHARE, default=ZERO),
    )


def _tax(table: Fields) -> Tax:
    return Tax(
        rate=table.decimal("rate", SHARE, default=ZERO),
        inclusive=table.flag("inclusive", default=True),
    )


def _fee(table: Fields) -> Fee:
    return Fee(
        label=table.text("label"),
        rate=table.decimal("rate", SHARE, default=ZERO),
        fixed=table.decimal("fixed", AMOUNT, default=ZERO),
        on=table.choice("on", FEE_BASES, default="charged"),
    )


def _shipping(table: Fields) -> Shipping:
    return Shipping(
        charged=table.decimal("charged", AMOUNT, default=ZERO),
        paid=table.decimal("paid", AMOUNT, default=ZERO),
    )


def read_channel(table: Fields) -> Channel:
    """One channel."""
    return Channel(
        key=table.key("key"),
        title=table.text("title", default=""),
        tax=table.table("tax", _tax, default=Tax()),
        fees=table.tables("fees", _fee),
        shipping=table.table("shipping", _shipping, default=Shipping()),
        packaging=table.decimal("packaging", AMOUNT, default=ZERO),
    )


def _rounding(table: Fields) -> Rounding:
    return Rounding(
        step=table.decimal("step", POSITIVE),
        offset=table.decimal("offset", SIGNED, default=ZERO),
    )


def _dead_band(table: Fields) -> DeadBand:
    return DeadBand(
        amount=table.decimal("amount", AMOUNT, default=ZERO),
        share=table.decimal("share", SHARE, default=ZERO),
    )


def _stale_spot(table: Fields) -> StaleSpot:
    usual = StaleSpot()
    stale = StaleSpot(
        warn_hours=table.decimal("warn_hours", AGE_HOURS, default=usual.warn_hours),
        refuse_hours=table.decimal(
            "refuse_hours", AGE_HOURS, default=usual.refuse_hours
        ),
    )
    sound = table.sound("warn_hours") and table.sound("refuse_hours")
    if sound and stale.refuse_hours <= stale.warn_hours:
        table.fault(
            f"{stale.refuse_hours} is not over the warn_hours of {stale.warn_hours}; "
            "a price is warned of before it is refused, so raise it",
            "refuse_hours",
        )
    return stale


def _quantity_break(table: Fields) -> QuantityBreak:
    return QuantityBreak(
        from_quantity=table.whole("from", COUNT_FROM_TWO),
        target_margin=table.decimal("target_margin", PART),
    )


def _prudence(table: Fields) -> Decimal | None:
    if table.peek("prudence") == "mean":
        return None
    return table.optional_decimal("prudence", QUANTILE)


def read_policy(table: Fields) -> Policy:
    """One policy, whose figures agree with one another."""
    policy = Policy(
        key=table.key("key"),
        title=table.text("title", default=""),
        target_margin=table.optional_decimal("target_margin", PART),
        floor_margin=table.decimal("floor_margin", PART, default=ZERO),
        markup=table.optional_decimal("markup", FACTOR),
        multipliers=table.optional_table("multipliers", _BY_KIND),
        min_hourly=table.optional_decimal("min_hourly", AMOUNT),
        min_price=table.optional_decimal("min_price", AMOUNT),
        rounding=table.optional_table("rounding", _rounding),
        validity_hours=table.whole("validity_hours", HOURS, default=72),
        dead_band=table.table("dead_band", _dead_band, default=DeadBand()),
        max_step=table.decimal("max_step", SHARE, default=ONE),
        allow_lowering=table.flag("allow_lowering", default=True),
        prudence=_prudence(table),
        quantity_breaks=table.tables("quantity_breaks", _quantity_break),
        stale_spot=table.table("stale_spot", _stale_spot, default=StaleSpot()),
    )
    if not any(table.given(rule) for rule in _RULES):
        table.fault(f"no rule sets a price; give at least one of {', '.join(_RULES)}")
    if policy.multipliers == {} and table.sound("multipliers"):
        table.fault("no kind of cost is named; name one or leave it out", "multipliers")
    _check_breaks(policy, table)
    _check_floor(policy, table)
    return policy


def _check_floor(policy: Policy, table: Fields) -> None:
    target, floor = policy.target_margin, policy.floor_margin
    if target is not None and floor > target:
        table.fault(
            f"{floor} is over the target margin of {target}; "
            "a price that just meets its target would be under the floor",
            "floor_margin",
        )
    for i, step in enumerate(policy.quantity_breaks):
        if table.sound("quantity_breaks", i) and step.target_margin < floor:
            table.fault(
                f"{step.target_margin} is under the floor margin of {floor}; "
                "raise it or lower floor_margin",
                *("quantity_breaks", i, "target_margin"),
            )


def _check_breaks(policy: Policy, table: Fields) -> None:
    breaks = policy.quantity_breaks
    if breaks and not table.given("target_margin"):
        table.fault(
            "these lower target_margin, which is not given; give it",
            "quantity_breaks",
        )
    if policy.target_margin is None:
        return
    first = QuantityBreak(from_quantity=1, target_margin=policy.target_margin)
    sound = (True, *(table.sound("quantity_breaks", i) for i in range(len(breaks))))
    for i, (before, step) in enumerate(pairwise((first, *breaks))):
        if sound[i] and sound[i + 1]:
            _check_break(before, step, table, i)


def _check_break(
    before: QuantityBreak, step: QuantityBreak, table: Fields, i: int
) -> None:
    if step.from_quantity <= before.from_quantity:
        table.fault(
            f"{step.from_quantity} comes after {before.from_quantity}; "
            "list the breaks by rising quantity",
            *("quantity_breaks", i, "from"),
        )
    if step.target_margin >= before.target_margin:
        table.fault(
            f"{step.target_margin} is not under the {before.target_margin} "
            "before it; a larger order has a lower target",
            *("quantity_breaks", i, "target_margin"),
        )


def read_extra(table: Fields) -> Extra:
    """One extra."""
    return Extra(
        key=table.key("key"),
        title=table.text("title", default=""),
        price_cost=table.decimal("price_cost", AMOUNT, default=ZERO),
        minutes=table.decimal("minutes", AMOUNT, default=ZERO),
    )
