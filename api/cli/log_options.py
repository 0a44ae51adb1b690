"""Options of the bench log: minutes by stage, coins at a cost, moments."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, datetime
from decimal import Decimal
from typing import Any

import click

from api.cli.wish_options import EXACT
from api.ports.jobs import LoggedCoins
from api.services.csv_cells import Unreadable
from api.services.jobs.cells import moment
from pricing.margin_check.actual import MONEY

_MONEY = {
    "sold_price": ("--sold", "What the buyer paid for the goods, tax and all."),
    "shipping_charged": ("--shipping-charged", "The same for sending them."),
    "tax": ("--tax", "All the tax inside both; left out, as large a share as planned."),
    "fees": ("--fees", "What the channel took."),
    "shipping_paid": ("--shipping-paid", "What sending cost."),
    "recovery_sold": ("--recovery", "What slugs, filings and scrap brought in."),
    "labour_rate": ("--labour-rate", "Wage of an hour at the bench."),
    "consumables_and_tools": ("--consumables", "Measured use and wear."),
}


class ByStage(click.ParamType[tuple[str, Decimal]]):
    """A stage and a figure, as in fold=8.5."""

    name = "stage=figure"

    def convert(
        self, value: Any, param: click.Parameter | None, ctx: click.Context | None
    ) -> tuple[str, Decimal]:
        """Both. Fails with what is allowed."""
        stage, mark, figure = str(value).partition("=")
        if not mark or not stage:
            self.fail(f"'{value}' is no pair such as fold=8.5", param, ctx)
        return stage, EXACT.convert(figure, param, ctx)


class AtCost(click.ParamType[LoggedCoins]):
    """Coins at what each cost, as in 2@17.40, or of a line, as in 2@17.40@1."""

    name = "count@cost"

    def convert(
        self, value: Any, param: click.Parameter | None, ctx: click.Context | None
    ) -> LoggedCoins:
        """The coins. Fails with what is allowed."""
        count, _, rest = str(value).partition("@")
        cost, _, line = rest.partition("@")
        if not count.isdecimal() or not (line or "1").isdecimal() or line == "0":
            said = f"'{value}' is not like 2@17.40, or 2@17.40@1 for the first line"
            self.fail(said, param, ctx)
        return LoggedCoins(
            line=int(line or 1) - 1,
            count=int(count),
            unit_cost=EXACT.convert(cost, param, ctx),
        )


class Moment(click.ParamType[date | datetime]):
    """A day, or a moment with its offset."""

    name = "day"

    def convert(
        self, value: Any, param: click.Parameter | None, ctx: click.Context | None
    ) -> date | datetime:
        """The day or moment. Fails with what is allowed."""
        try:
            return moment(str(value))
        except Unreadable as error:
            self.fail(str(error), param, ctx)


def with_money(command: Callable[..., Any]) -> Callable[..., Any]:
    """Add an option for everything that can be known of the money."""
    for name in reversed(MONEY):
        flag, told = _MONEY[name]
        option = click.option(flag, name, type=EXACT, metavar="AMOUNT", help=told)
        command = option(command)
    return command
