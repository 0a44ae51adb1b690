"""What is promised and not made yet: silver still to be bought, and what spot does."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from decimal import Decimal
from typing import Any

from api.ports.margin_checks import PromisedQuote
from api.services.margin_checks.check import OpenPromises
from pricing import money
from pricing.money import ZERO, Currency

MOST_QUOTES = 500
"""Quotes that are looked at, the newest [count]."""

_FORMATS = (1, 2)
"""Formats of kept quotes whose lines are read here."""


def open_promises(quotes: Iterable[PromisedQuote], currency: Currency) -> OpenPromises:
    """What quotes that may still have to be kept come to.

    Args:
        quotes: the newest ones; one more than `MOST_QUOTES` says that more exist.
        currency: of the price book; others are left out.
    """
    found = list(quotes)
    read = [(each, _lines(each, currency)) for each in found[:MOST_QUOTES]]
    kept = [(each, lines) for each, lines in read if lines is not None]
    with money.arithmetic():
        rows = [_promised(lines, each.coins_taken) for each, lines in kept]
        coins, ounces, slope = (sum(column, ZERO) for column in _columns(rows))
    return OpenPromises(
        quotes=len(kept),
        accepted=sum(each.accepted for each, _ in kept),
        coins=money.half_up(coins, money.RATE_STEP),
        fine_ozt=money.mass_g(ounces),
        per_unit_of_spot=money.amount(-slope, currency),
        left_out=len(found) - len(kept),
    )


def _columns(rows: list[tuple[Decimal, ...]]) -> Iterable[tuple[Decimal, ...]]:
    return zip(*rows, strict=True) if rows else ((), (), ())


def _lines(quote: PromisedQuote, currency: Currency) -> list[Mapping[str, Any]] | None:
    document = json.loads(quote.document)
    if document.get("format") not in _FORMATS:
        return None
    lines: list[Mapping[str, Any]] = document["lines"]
    return lines if all(x["currency"] == currency.code for x in lines) else None


def _promised(lines: list[Mapping[str, Any]], taken: int) -> tuple[Decimal, ...]:
    """Coins, their silver [ozt] and the slope of cost, of what is not begun yet."""
    coins = [_coins(each) for each in lines]
    whole = sum(coins, ZERO)
    left = max(ZERO, 1 - taken / whole) if whole else ZERO
    ounces = (
        starts * Decimal(line["forming"]["fine_ozt"])
        for starts, line in zip(coins, lines, strict=True)
        if line["own_coin"] is None
    )
    slopes = (
        Decimal(x["cost"]["slope_per_spot"]) * x["wish"]["quantity"] for x in lines
    )
    return whole * left, sum(ounces, ZERO) * left, sum(slopes, ZERO) * left


def _coins(line: Mapping[str, Any]) -> Decimal:
    starts = Decimal(line["spoilage"]["starts_per_good"])
    return starts * Decimal(line["wish"]["quantity"])
