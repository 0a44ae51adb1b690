"""What a repricing is asked for with at a terminal."""

from __future__ import annotations

import re
from decimal import Decimal
from typing import Any

import click

from api.ports import Place
from pricing.errors import InvalidInput
from pricing.money import exact_decimal

_SKU = re.compile("[A-Za-z0-9._-]{1,64}", re.ASCII)


class Percent(click.ParamType[Decimal]):
    """A share written as per cent: 2% or 2 is 0.02."""

    name = "per cent"

    def convert(
        self, value: Any, param: click.Parameter | None, ctx: click.Context | None
    ) -> Decimal:
        """The share. Fails with what is allowed."""
        try:
            percent = exact_decimal(str(value).strip().removesuffix("%").strip())
        except InvalidInput as refused:
            self.fail(f"{refused.message}; write it like 2%", param, ctx)
        if percent <= 0:
            self.fail("it has to be above 0; write it like 2%", param, ctx)
        return percent / 100


class BandName(click.ParamType[Place]):
    """A band by its listing and its smallest size: R-17:5.5."""

    name = "band"

    def convert(
        self, value: Any, param: click.Parameter | None, ctx: click.Context | None
    ) -> Place:
        """The place. Fails with what is allowed."""
        sku, _, size = str(value).rpartition(":")
        try:
            if _SKU.fullmatch(sku):
                return Place(sku, exact_decimal(size))
        except InvalidInput:
            pass  # which is said below, as a whole
        return self.fail(
            "name a band by sku and smallest size, like R-17:5.5", param, ctx
        )
