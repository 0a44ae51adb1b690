"""Cells of a bench log's file: figures read once each, counts and moments."""

from __future__ import annotations

import re
from datetime import date, datetime
from decimal import Decimal

from api.services.csv_cells import Unreadable, figure_in, quoted
from api.services.csv_table import DecimalMark
from pricing import money

_WHOLE = re.compile(r"[0-9]{1,6}", re.ASCII)
_DAY = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}", re.ASCII)


class Cells:
    """Reads cells of one file; figures that come again are not read again."""

    def __init__(self, decimal: DecimalMark) -> None:
        self._decimal = decimal
        self._figures: dict[str, Decimal] = {}

    def figure(self, cell: str) -> Decimal:
        """An exact figure, without zeros at its end. Raises Unreadable."""
        known = self._figures.get(cell)
        if known is None:
            figure = figure_in(cell, self._decimal)
            known = self._figures[cell] = money.tidy(figure, places=0)
        return known


def whole(cell: str) -> int:
    """A count. Raises Unreadable."""
    if not _WHOLE.fullmatch(cell):
        raise Unreadable(f"'{quoted(cell)}' is no whole number; write digits alone")
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
            f"'{quoted(cell)}' is no day such as 2026-11-27, and no moment such as "
            "2026-11-27T16:30:00+01:00"
        )
    return found
