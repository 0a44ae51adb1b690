"""Orders and policies drawn at random, small enough to price by trying everything."""

from decimal import Decimal

from hypothesis import strategies as st

from pricing.money import currency
from pricing.price_book import (
    FEE_BASES,
    Channel,
    Fee,
    Policy,
    QuantityBreak,
    Rounding,
    Shipping,
    Tax,
)
from pricing.sale import CostFigures, SaleTerms

MINOR = {"EUR": Decimal("0.01"), "JPY": Decimal(1), "KWD": Decimal("0.001")}
RATES = st.integers(0, 250).map(lambda n: n * Decimal("0.001"))
SMALL_RATES = st.integers(0, 80).map(lambda n: n * Decimal("0.001"))


def money(code: str, most: int) -> st.SearchStrategy[Decimal]:
    """Up to ``most`` minor units."""
    return st.integers(0, most).map(lambda n: n * MINOR[code])


def fees(code: str) -> st.SearchStrategy[Fee]:
    return st.builds(
        Fee,
        label=st.just("fee"),
        rate=SMALL_RATES,
        fixed=money(code, 60),
        on=st.sampled_from(FEE_BASES),
    )


def channels(code: str, *, most_fees: int = 3) -> st.SearchStrategy[Channel]:
    return st.builds(
        Channel,
        key=st.just("shop"),
        tax=st.builds(Tax, rate=RATES, inclusive=st.booleans()),
        fees=st.lists(fees(code), max_size=most_fees).map(tuple),
        shipping=st.builds(Shipping, charged=money(code, 400), paid=money(code, 400)),
    )


@st.composite
def orders(draw, *, most_fees: int = 3) -> tuple[SaleTerms, CostFigures]:
    code = draw(st.sampled_from(sorted(MINOR)))
    terms = SaleTerms(
        channel=draw(channels(code, most_fees=most_fees)),
        currency=currency(code),
        quantity=draw(st.integers(1, 6)),
    )
    coin, labour, rest = (draw(money(code, 300)) for _ in range(3))
    recovery = -draw(money(code, 100))
    cost = CostFigures(
        per_piece=coin + labour + rest + recovery,
        labour=labour,
        attended_minutes=draw(st.integers(0, 6000)) * Decimal("0.01"),
        by_kind={
            "coin": coin,
            "labour": labour,
            "consumable": rest,
            "recovery": recovery,
        },
    )
    return terms, cost


def optional(rule: st.SearchStrategy[Decimal]) -> st.SearchStrategy[Decimal | None]:
    return st.none() | rule


@st.composite
def roundings(draw, code: str) -> Rounding | None:
    if draw(st.booleans()):
        return None
    step = draw(st.sampled_from((1, 3, 5, 10, 50, 100, 250, 500)))
    offset = draw(st.integers(-step, step))
    return Rounding(step=step * MINOR[code], offset=offset * MINOR[code])


@st.composite
def policies(draw, code: str) -> Policy:
    """Any mix of rules; none demands more than half of net."""
    factors = st.dictionaries(
        st.sampled_from(("coin", "labour", "recovery", "tool")),
        st.integers(0, 300).map(lambda n: n * Decimal("0.01")),
    )
    return Policy(
        key="any",
        target_margin=draw(optional(RATES.map(lambda r: 2 * r))),
        floor_margin=draw(RATES),
        markup=draw(optional(RATES.map(lambda r: 4 * r))),
        multipliers=draw(st.none() | factors),
        min_hourly=draw(optional(money(code, 1000))),
        min_price=draw(optional(money(code, 800))),
        rounding=draw(roundings(code)),
        quantity_breaks=draw(
            st.just(())
            | st.just((QuantityBreak(from_quantity=3, target_margin=Decimal("0.1")),))
        ),
    )


@st.composite
def priced(draw) -> tuple[Policy, SaleTerms, CostFigures]:
    terms, cost = draw(orders())
    return draw(policies(terms.currency.code)), terms, cost
