"""Reading the bench side of a price book, table by table."""

from __future__ import annotations

from decimal import Decimal
from itertools import pairwise

from pricing.money import ONE, ZERO
from pricing.price_book.bench import (
    BASES,
    DRIVERS,
    NEVER,
    NO_DRIVERS,
    REMOVALS,
    Calibration,
    Chance,
    CoinBuying,
    Consumable,
    ConsumableUse,
    Forming,
    Labour,
    Recovery,
    Redo,
    Stage,
    Tool,
)
from pricing.price_book.fields import Fields, figures_by
from pricing.price_book.limits import (
    AMOUNT,
    CALIBRATION,
    COUNT,
    COUNT_FROM_ONE,
    LENGTH_MM,
    PART,
    PREMIUM,
    SHARE,
    SIZES,
    WEEK_HOURS,
)

_BUYING = CoinBuying()
_FORMING = Forming()
_HALF = Decimal("0.5")
_BY_DRIVER = figures_by(DRIVERS, AMOUNT)


def read_labour(table: Fields) -> Labour:
    """The bench wage and overhead, and the hours of a week."""
    return Labour(
        rate_per_hour=table.decimal("rate_per_hour", AMOUNT),
        overhead_per_hour=table.decimal("overhead_per_hour", AMOUNT, default=ZERO),
        hours_per_week=table.optional_decimal("hours_per_week", WEEK_HOURS),
    )


def read_consumable(table: Fields) -> Consumable:
    """One consumable."""
    return Consumable(
        key=table.key("key"),
        unit=table.text("unit"),
        price=table.decimal("price", AMOUNT),
        title=table.text("title", default=""),
    )


def read_tool(table: Fields) -> Tool:
    """One tool, sold in the end for no more than it cost."""
    tool = Tool(
        key=table.key("key"),
        price=table.decimal("price", AMOUNT),
        salvage=table.decimal("salvage", AMOUNT, default=ZERO),
        life_uses=table.whole("life_uses", COUNT_FROM_ONE),
        title=table.text("title", default=""),
    )
    if table.sound("price") and table.sound("salvage") and tool.salvage > tool.price:
        table.fault(
            f"{tool.salvage} is more than the price of {tool.price}; "
            "the tool would earn money by wearing out",
            "salvage",
        )
    return tool


def _mean(chance: Chance) -> Decimal:
    # Counts are read with a Jeffreys prior, as the route reads them.
    if chance.tried is None or chance.failed is None:
        return chance.rate or ZERO
    return (chance.failed + _HALF) / (chance.tried + 1)


def read_chance(table: Fields) -> Chance:
    """A chance, given as a rate or counted; never both."""
    rate = table.optional_decimal("rate", PART)
    tried = table.optional_whole("tried", COUNT)
    failed = table.optional_whole("failed", COUNT)
    given = [name for name in ("rate", "tried", "failed") if table.given(name)]
    if given not in (["rate"], ["tried", "failed"]):
        table.fault(
            f"{' and '.join(given) or 'nothing'} given; write either rate alone, "
            "or tried and failed from your counts"
        )
    elif tried is not None and failed is not None and failed > tried:
        table.fault(f"{failed} failed of {tried} tried; count again", "failed")
    return Chance(rate=rate, tried=tried, failed=failed)


def _redo(table: Fields) -> Redo:
    return Redo(chance=read_chance(table), to=table.key("to"))


def _use(table: Fields) -> ConsumableUse:
    return ConsumableUse(
        key=table.key("key"),
        quantity=table.decimal("quantity", AMOUNT),
        quantity_per=table.table("quantity_per", _BY_DRIVER, default=NO_DRIVERS),
    )


def read_stage(table: Fields) -> Stage:
    """One stage, which must let some pieces pass."""
    stage = Stage(
        key=table.key("key"),
        title=table.text("title"),
        setup_minutes=table.decimal("setup_minutes", AMOUNT, default=ZERO),
        batch=table.whole("batch", COUNT_FROM_ONE, default=1),
        minutes=table.decimal("minutes", AMOUNT, default=ZERO),
        minutes_per=table.table("minutes_per", _BY_DRIVER, default=NO_DRIVERS),
        unattended_minutes=table.decimal("unattended_minutes", AMOUNT, default=ZERO),
        consumables=table.tables("consumables", _use),
        tools=table.keys("tools"),
        removes=table.choice("removes", REMOVALS, default=""),
        scrap=table.table("scrap", read_chance, default=NEVER),
        redo=table.optional_table("redo", _redo),
    )
    if table.sound("scrap") and table.sound("redo"):
        _check_some_pass(stage, table)
    return stage


def _check_some_pass(stage: Stage, table: Fields) -> None:
    redo = ZERO if stage.redo is None else _mean(stage.redo.chance)
    if _mean(stage.scrap) + redo >= ONE:
        table.fault(
            "scrap and redo together leave no chance to pass this stage; "
            "their sum must be under 1",
            "redo",
        )


def read_recovery(table: Fields) -> Recovery:
    """What scrap is paid, and what finishing loses."""
    return Recovery(
        slug=table.decimal("slug", SHARE, default=ZERO),
        filings=table.decimal("filings", SHARE, default=ZERO),
        scrap=table.decimal("scrap", SHARE, default=ZERO),
        finish_loss=table.decimal("finish_loss", PART, default=ZERO),
    )


def read_coin_buying(table: Fields) -> CoinBuying:
    """How coins are paid for."""
    return CoinBuying(
        basis=table.choice("basis", BASES, default=_BUYING.basis),
        premium=table.decimal("premium", PREMIUM, default=ZERO),
        extra=table.decimal("extra", AMOUNT, default=ZERO),
        paid=table.optional_decimal("paid", AMOUNT),
        wear=table.decimal("wear", PART, default=ZERO),
    )


def read_forming(table: Fields) -> Forming:
    """The limits of this bench; its punches by rising diameter."""
    forming = Forming(
        punches_mm=table.decimals("punches_mm", LENGTH_MM),
        min_wall_mm=table.decimal(
            "min_wall_mm", LENGTH_MM, default=_FORMING.min_wall_mm
        ),
        min_land_mm=table.decimal(
            "min_land_mm", LENGTH_MM, default=_FORMING.min_land_mm
        ),
        opening_allowance=table.decimal(
            "opening_allowance", SIZES, default=_FORMING.opening_allowance
        ),
    )
    for i, (small, large) in enumerate(pairwise(forming.punches_mm), start=1):
        if table.sound("punches_mm", i) and small >= large:
            said = f"{large} comes after {small}"
            table.fault(
                f"{said}; list each punch once, by rising diameter", *("punches_mm", i)
            )
    return forming


def read_calibration(table: Fields) -> Calibration:
    """What the scale showed for one coin."""
    return Calibration(
        coin=table.key("coin"),
        slug=table.decimal("slug", CALIBRATION, default=ONE),
        bored=table.decimal("bored", CALIBRATION, default=ONE),
    )
