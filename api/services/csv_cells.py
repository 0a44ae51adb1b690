"""Cells of a CSV file: figures, and texts harmless to spreadsheets, and back.

A spreadsheet takes a cell that begins with certain signs for a formula, and works it
out for whoever opens the file. Such a text is written with an apostrophe before it,
which spreadsheets show as text. Reading takes exactly that apostrophe away: before a
text that has one of its own in that place, one more is written.

References:
    [1] OWASP, CSV Injection: = + - @, tab, line ends and NUL; also after blanks,
        after a line end within the cell, and in full width.
"""

from __future__ import annotations

import re
import unicodedata
from decimal import Decimal

from api.services.csv_table import DecimalMark
from pricing import money

MARK = "'"
SIGNS = frozenset("=+-@\0\uff1d\uff0b\uff0d\uff20")  # the last four are in full width
_STEPS = frozenset("\t\r\n")
_LINE_END = re.compile("[\r\n]")
_NUMBER = re.compile(r"-?(?:0|[1-9][0-9]{0,11})(?:([.,])[0-9]{1,9})?", re.ASCII)
_QUOTED = 24


class Unreadable(ValueError):
    """What is wrong with a cell."""


def harmless(text: str) -> str:
    """A text as it is written into a cell.

    >>> harmless("=1+1"), harmless("5 - 3"), harmless("'-x")
    ("'=1+1", '5 - 3', "''-x")
    """
    return MARK + text if _is_dangerous(text) else text


def meant(cell: str) -> str:
    """The text that a cell was written for.

    >>> meant("'=1+1"), meant("'tis")
    ('=1+1', "'tis")
    """
    marked = cell.startswith(MARK) and _is_dangerous(cell)
    return cell.removeprefix(MARK) if marked else cell


def text_in(cell: str) -> str:
    """The text that a cell was written for, in NFC."""
    return unicodedata.normalize("NFC", meant(cell))


def figure_in(cell: str, decimal: DecimalMark) -> Decimal:
    """The exact figure in a cell.

    >>> figure_in("8,50", ",")
    Decimal('8.50')

    Raises:
        Unreadable: there is none, or it has another mark.
    """
    found = _NUMBER.fullmatch(cell)
    if not found or found[1] not in {None, decimal}:
        raise Unreadable(
            f"'{quoted(cell)}' is no number; write digits alone, and before decimals a "
            f"'{decimal}' as the file is said to have"
        )
    return Decimal(cell.replace(",", ".")) + money.ZERO  # no minus zero


def shown(figure: Decimal | None, decimal: DecimalMark) -> str:
    """A figure as it stands in a cell; empty for none.

    >>> shown(Decimal("8.50"), ",")
    '8,50'
    """
    return "" if figure is None else format(figure, "f").replace(".", decimal)


def quoted(cell: str) -> str:
    """A cell as far as a message repeats it."""
    return cell[:_QUOTED]


def _is_dangerous(text: str) -> bool:
    """Whether it could be taken for a formula, whatever apostrophes it begins with."""
    bare = text.lstrip(MARK)
    blanks = bare[: len(bare) - len(bare.lstrip())]
    if _STEPS & set(blanks):
        return True
    return any(line.lstrip()[:1] in SIGNS for line in _LINE_END.split(bare))
