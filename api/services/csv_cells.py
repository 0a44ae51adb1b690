"""Text in the cells of a CSV file, harmless to spreadsheets, and back.

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

MARK = "'"
SIGNS = frozenset("=+-@\0\uff1d\uff0b\uff0d\uff20")  # the last four are in full width
_STEPS = frozenset("\t\r\n")
_LINE_END = re.compile("[\r\n]")


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


def _is_dangerous(text: str) -> bool:
    """Whether it could be taken for a formula, whatever apostrophes it begins with."""
    bare = text.lstrip(MARK)
    blanks = bare[: len(bare) - len(bare.lstrip())]
    if _STEPS & set(blanks):
        return True
    return any(line.lstrip()[:1] in SIGNS for line in _LINE_END.split(bare))
