"""Reading a file of settings, TOML or JSON, without losing a digit."""

from __future__ import annotations

import json
import tomllib
from typing import Any

import click

MOST_BYTES = 1_000_000


def read_document(file: str, *, kind: str = "price book") -> dict[str, Any]:
    """The nested tables in a file; ``-`` reads standard input.

    Bare figures with a point are kept as the text they were written with. What
    begins with a brace is JSON. ``kind`` is what the file should hold, for a message.

    Raises:
        UsageError: unreadable, too large, or neither TOML nor JSON; says where.
    """
    try:
        with click.open_file(file, "rb") as opened:
            raw = opened.read(MOST_BYTES + 1)
    except OSError as error:
        raise click.UsageError(f"{file} cannot be read: {error.strerror}") from error
    if len(raw) > MOST_BYTES:
        raise click.UsageError(f"{file} is larger than {MOST_BYTES} bytes")
    try:
        return parsed(raw.decode("utf-8-sig"))
    except (ValueError, RecursionError) as error:
        raise click.UsageError(f"{file} is no {kind}: {error}") from error


def parsed(text: str) -> dict[str, Any]:
    """Nested tables from TOML or JSON text. Raises ValueError."""
    if not text.lstrip().startswith("{"):
        return tomllib.loads(text, parse_float=str)
    tables: dict[str, Any] = json.loads(
        text, parse_float=str, parse_constant=_refuse, object_pairs_hook=_once
    )
    return tables


def _once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    names = [name for name, _ in pairs]
    twice = sorted({name for name in names if names.count(name) > 1})
    if twice:
        raise ValueError(f"'{twice[0]}' is given twice in one object")
    return dict(pairs)


def _refuse(constant: str) -> None:
    raise ValueError(f"{constant} is not a number")
