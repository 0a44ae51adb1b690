"""Settings as the text of a file, TOML or JSON, without losing a digit."""

from __future__ import annotations

import json
import tomllib
from collections import Counter
from collections.abc import Mapping
from typing import Any, Literal

import tomli_w

from pricing.errors import InvalidInput

MOST_BYTES = 1_000_000
"""Of a file of settings [B]."""

Writing = Literal["toml", "json"]
WRITINGS: tuple[Writing, ...] = ("toml", "json")


def parsed(text: str) -> dict[str, Any]:
    """Nested tables from TOML or JSON text. Raises ValueError.

    Bare figures with a point are kept as the text they were written with. What
    begins with a brace is JSON.
    """
    if not text.lstrip().startswith("{"):
        return tomllib.loads(text, parse_float=str)
    tables: dict[str, Any] = json.loads(
        text, parse_float=str, parse_constant=_refuse, object_pairs_hook=_once
    )
    return tables


def text_of(raw: bytes, member: str) -> str:
    """The text in a file that was sent.

    Args:
        raw: the file.
        member: its name in the document, for the message's path.

    Raises:
        InvalidInput: there is nothing in it, too much, or no text.
    """
    if not raw.strip():
        raise InvalidInput("no file was chosen, or it is empty", path=(member,))
    if len(raw) > MOST_BYTES:
        raise InvalidInput(f"it is larger than {MOST_BYTES} bytes", path=(member,))
    try:
        return raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise InvalidInput("it is no text in UTF-8", path=(member,)) from error


def tables_of(text: str, member: str) -> dict[str, Any]:
    """Nested tables from TOML or JSON text that was sent. Raises InvalidInput."""
    try:
        return parsed(text)
    except (ValueError, RecursionError) as error:
        raise InvalidInput(f"it is no price book: {error}", path=(member,)) from error


def written(document: Mapping[str, Any], writing: Writing) -> str:
    """The text of a file of settings, as `parsed` reads it."""
    if writing == "json":
        return json.dumps(document, indent=2, ensure_ascii=False) + "\n"
    return tomli_w.dumps(document)


def _once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    members = dict(pairs)
    if len(members) != len(pairs):
        count = Counter(name for name, _ in pairs)
        twice = min(name for name in count if count[name] > 1)
        raise ValueError(f"'{twice}' is given twice in one object")
    return members


def _refuse(constant: str) -> None:
    raise ValueError(f"{constant} is not a number")
