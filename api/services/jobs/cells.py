"""Cells of a bench log's file: figures read once each, and written harmlessly."""

from __future__ import annotations

import re
import unicodedata
from datetime import date, datetime
from decimal import Decimal

from api.services.csv_cells import meant
from api.services.csv_table import DecimalMark
from pricing import money

_NUMBER = re.compile(r"-?(?:0|[1-9][0-9]{0,11})(?:([.,])[0-9]{1,9})?", re.ASCII)
_WHOLE = re.compile(r"[0-9]{1,6}", re.ASCII)
_DAY = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}", re.ASCII)
_SHOWN = 24


class Unreadable(ValueError):
    """What is wrong with a cell."""


class Cells:
    """Reads cells of one file; figures that come again are not read again."""

    def __init__(self, decimal: DecimalMark) -> None:
        self._decimal = decimal
        self._figures: dict[str, Decimal] = {}

    def figure(self, cell: str) -> Decimal:
        """An exact figure, without zeros at its end. Raises Unreadable."""
        known = self._figures.get(cell)
        if known is None:
            known = self._figures[cell] = self._figure(cell)
        return known

    def _figure(self, cell: str) -> Decimal:
        found = _NUMBER.fullmatch(cell)
        if not found or found[1] not in {None, self._decimal}:
            raise Unreadable(
                f"'{cell[:_SHOWN]}' is no number; write digits alone, and before "
                f"decimals a '{self._decimal}' as the file is said to have"
            )
        return money.tidy(Decimal(cell.replace(",", ".")), places=0) + money.ZERO


def text(cell: str) -> str:
    """What a cell was written for, in NFC."""
    return unicodedata.normalize("NFC", meant(cell))


def whole(cell: str) -> int:
    """A count. Raises Unreadable."""
    if not _WHOLE.fullmatch(cell):
        raise Unreadable(f"'{cell[:_SHOWN]}' is no whole number; write digits alone")
    return int(cell)


def moment(cell: str) -> date | datetime:
    """A day, or a moment with its offset from UTC. Raises Unreadable."""
    try:
        if _DAY.fullmatch(cell):
            return date.fromisoformat(cell)
        found = datetime.fromisoformat(cell)
    except ValueError:
        found = None
    if found is None or found.utcoffset() is None:
        raise Unreadable(
            f"'{cell[:_SHOWN]}' is no day such as 2026-11-27, and no moment such as "
            "2026-11-27T16:30:00+01:00"
        )
    return found


def shown(figure: Decimal | None, decimal: DecimalMark) -> str:
    """A figure as it stands in a cell; empty for none."""
    return "" if figure is None else format(figure, "f").replace(".", decimal)
