"""What a command prints: results to stdout, everything else to stderr.

Whatever is not printed as a sign of its own is shown escaped in tables and in
JSON: line ends, controls that a terminal obeys, marks that turn text round.
"""

from __future__ import annotations

import json
import os
import shutil
import sys
from collections.abc import Callable, Mapping, Sequence
from datetime import datetime
from decimal import Decimal
from typing import Any

import click

Row = Sequence[object]


def colour() -> bool | None:
    """Whether to colour: never with NO_COLOR set, else Click looks at the terminal."""
    return False if os.environ.get("NO_COLOR") else None


def table(headings: Sequence[str], rows: Sequence[Row], *, right: str = "") -> str:
    """Rows in columns with a heading each.

    Args:
        headings: one a column.
        rows: cells, printed as text; None is left empty.
        right: one character a column, ``r`` where figures line up at the right;
            columns beyond its end line up at the left.
    """
    cells = [[_cell(cell) for cell in row] for row in (headings, *rows)]
    widths = [max(map(len, column)) for column in zip(*cells, strict=True)]
    lines = [
        "  ".join(
            cell.rjust(width) if right[i : i + 1] == "r" else cell.ljust(width)
            for i, (cell, width) in enumerate(zip(line, widths, strict=True))
        ).rstrip()
        for line in cells
    ]
    return "\n".join([click.style(lines[0], bold=True), *lines[1:]])


def facts(pairs: Mapping[str, object]) -> str:
    """Names and figures below each other; those without a figure are left out."""
    told = {name: _cell(value) for name, value in pairs.items() if _cell(value)}
    width = max(map(len, told), default=0)
    return "\n".join(f"{name.ljust(width)}  {value}" for name, value in told.items())


def counted(number: int, one: str, more: str) -> str:
    """A number with its noun.

    >>> counted(1, "row", "rows"), counted(0, "row", "rows")
    ('1 row', '0 rows')
    """
    return f"{number} {one if number == 1 else more}"


def columns() -> int | None:
    """How many signs fit into a line; None where the output is not for a terminal."""
    if not (sys.stdout.isatty() or "COLUMNS" in os.environ):
        return None
    return shutil.get_terminal_size().columns


def show(document: Any, text: Callable[[], str], *, as_json: bool) -> None:
    """Print a result, as JSON for programs or as ``text()`` for people."""
    if as_json:
        click.echo(json_text(document, indent=2))
    else:
        click.echo(text(), color=colour())


def one_line(text: str) -> str:
    r"""``text`` with every sign escaped that does not print.

    >>> one_line("a\nb \x1b[2J \u202e c")
    'a\\nb \\x1b[2J \\u202e c'
    """
    if text.isprintable():
        return text
    return "".join(sign if sign.isprintable() else _escaped(sign) for sign in text)


def _escaped(sign: str) -> str:
    return sign.encode("unicode_escape").decode("ascii")


def json_text(document: Any, *, indent: int | None = None) -> str:
    """``document`` as JSON, on one line unless it is indented by some blanks."""
    text = json.dumps(document, indent=indent, ensure_ascii=False, default=_plain)
    # The dump's own line ends are all that is outside of texts.
    return "".join(
        sign if sign.isprintable() or sign == "\n" else _escaped_in_json(sign)
        for sign in text
    )


def _escaped_in_json(sign: str) -> str:
    escaped = json.dumps(sign)[1:-1]
    return f"\\u{ord(sign):04x}" if escaped == sign else escaped  # it leaves DEL


def note(message: str) -> None:
    """Say something beside the result."""
    click.echo(message, err=True, color=colour())


def instant(when: datetime | None) -> str:
    """A moment the way a person reads it, in UTC, to the minute."""
    return f"{when:%Y-%m-%d %H:%M} UTC" if when else ""


def _cell(value: object) -> str:
    if isinstance(value, Decimal):
        return f"{value:f}"
    return "" if value is None else one_line(str(value))


def _plain(value: object) -> str:
    """Exact figures and moments as the text that the API gives for them."""
    if isinstance(value, Decimal):
        return f"{value:f}"
    if isinstance(value, datetime):
        return value.isoformat().replace("+00:00", "Z")
    raise TypeError(f"{type(value).__name__} has no place in a document")
