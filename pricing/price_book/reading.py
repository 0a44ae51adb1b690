"""Reading a price book from a document: whole, or refused with every fault."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache
from zoneinfo import available_timezones

from pricing.errors import BookRefused, InvalidInput
from pricing.money import Currency, arithmetic, currency
from pricing.price_book.bench import CoinBuying, Forming, Recovery
from pricing.price_book.bench_reading import (
    read_calibration,
    read_coin_buying,
    read_consumable,
    read_forming,
    read_labour,
    read_recovery,
    read_stage,
    read_tool,
)
from pricing.price_book.book import PriceBook
from pricing.price_book.checks import check_book
from pricing.price_book.fields import Fields, built
from pricing.price_book.findings import Findings, suggestion
from pricing.price_book.selling import AfterSale
from pricing.price_book.selling_reading import (
    read_after_sale,
    read_channel,
    read_extra,
    read_policy,
)

# Stands in for a currency at fault: any amount can be paid in it.
_NO_CURRENCY = Currency("", 9)


def read_price_book(document: Mapping[str, object], *, version: int = 0) -> PriceBook:
    """A price book from nested tables, as a TOML or JSON parser gives them.

    Args:
        document: the tables; every figure exact, so text, a whole number or a
            Decimal, never a float.
        version: the number the storage gave it [count from 1], 0 for none.

    Raises:
        BookRefused: something is wrong; ``faults`` holds all of it by path, the
            first thousand if there is more.
    """
    findings = Findings()

    def read(table: Fields) -> PriceBook:
        return _read_book(table, version=version)

    with arithmetic():
        book = built(document, read, path=(), into=findings)
        if findings.readable() and not findings.full:
            check_book(book, findings)
    faults = findings.faults
    if faults:
        first = faults[0]
        count = "1 fault" if len(faults) == 1 else f"{len(faults)} faults"
        raise BookRefused(
            f"the price book has {count} and nothing of it is used; "
            f"first, {first.dotted or 'the book'}: {first.message}",
            faults=faults,
        )
    return book


def _read_book(table: Fields, *, version: int) -> PriceBook:
    return PriceBook(
        title=table.text("title"),
        currency=_currency(table),
        timezone=_timezone(table),
        labour=table.table("labour", read_labour),
        consumables=table.tables("consumables", read_consumable),
        tools=table.tables("tools", read_tool),
        stages=table.tables("stages", read_stage, least=1),
        recovery=table.table("recovery", read_recovery, default=Recovery()),
        after_sale=table.table("after_sale", read_after_sale, default=AfterSale()),
        coin_buying=table.table("coin_buying", read_coin_buying, default=CoinBuying()),
        channels=table.tables("channels", read_channel, least=1),
        policies=table.tables("policies", read_policy, least=1),
        extras=table.tables("extras", read_extra),
        forming=table.table("forming", read_forming, default=Forming()),
        calibrations=table.tables("calibrations", read_calibration),
        version=version,
    )


def _currency(table: Fields) -> Currency:
    code = table.text("currency")
    if not table.sound("currency"):
        return _NO_CURRENCY
    try:
        return currency(code)
    except InvalidInput as error:
        table.fault(error.message, "currency")
        return _NO_CURRENCY


def _timezone(table: Fields) -> str:
    name = table.text("timezone")
    if table.sound("timezone") and name not in _timezones():
        near = suggestion(name, _timezones(), otherwise="write it like Europe/Vienna")
        table.fault(f"'{name[:40]}' is not a time zone; {near}", "timezone")
    return name


@cache
def _timezones() -> tuple[str, ...]:
    # "localtime" is whatever this machine happens to be set to.
    return tuple(sorted(available_timezones() - {"localtime"}))
