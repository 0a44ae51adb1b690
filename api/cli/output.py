"""What a command prints: results to stdout, everything else to stderr."""

from __future__ import annotations

import json
import os
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


def show(document: Any, text: Callable[[], str], *, as_json: bool) -> None:
    """Print a result, as JSON for programs or as ``text()`` for people."""
    if as_json:
        click.echo(json.dumps(document, indent=2, ensure_ascii=False, default=_plain))
    else:
        click.echo(text(), color=colour())


def note(message: str) -> None:
    """Say something beside the result."""
    click.echo(message, err=True, color=colour())


def instant(when: datetime | None) -> str:
    """A moment the way a person reads it, in UTC, to the minute."""
    return f"{when:%Y-%m-%d %H:%M} UTC" if when else ""


def _cell(value: object) -> str:
    if isinstance(value, Decimal):
        return f"{value:f}"
    return "" if value is None else str(value)


def _plain(value: object) -> str:
    """Exact figures and moments as the text that the API gives for them."""
    if isinstance(value, Decimal):
        return f"{value:f}"
    if isinstance(value, datetime):
        return value.isoformat().replace("+00:00", "Z")
    raise TypeError(f"{type(value).__name__} has no place in a document")
