"""Reading a file of settings, TOML or JSON, without losing a digit."""

from __future__ import annotations

from typing import Any

import click

from api.services.settings_text import MOST_BYTES, parsed


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
