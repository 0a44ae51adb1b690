"""Text that comes with a command, as long as it is text."""

from __future__ import annotations

from typing import Any

import click


class Written(click.ParamType[str]):
    """Text, and no bytes that the terminal's encoding could not read."""

    name = "text"

    def convert(
        self, value: Any, param: click.Parameter | None, ctx: click.Context | None
    ) -> str:
        """The text. Fails where a database could not even look for it."""
        text = str(value)
        if any("\ud800" <= sign <= "\udfff" for sign in text):
            self.fail("it holds bytes that are no text; write it in UTF-8", param, ctx)
        return text


WRITTEN = Written()
