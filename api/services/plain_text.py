"""Free text that people add to what is stored: printable, and not too long."""

from __future__ import annotations

import unicodedata

from pricing.errors import InvalidInput

MOST_CHARACTERS = 200
# Controls, format marks, lone surrogates, line and paragraph separators: they can
# forge a line of a log, turn text round, or break the storage.
_UNPRINTABLE = frozenset({"Cc", "Cf", "Cs", "Zl", "Zp"})


def plain_line(text: str, member: str, *, blank: bool = True) -> str:
    """``text`` without blanks at its ends.

    Args:
        text: what was given.
        member: its name in the document, for the message's path.
        blank: whether it may be empty.

    Raises:
        InvalidInput: it is too long, empty, or holds signs that do not print.
    """
    line = text.strip()
    if len(line) > MOST_CHARACTERS:
        said = f"{len(line)} characters are too many; use at most {MOST_CHARACTERS}"
    elif any(unicodedata.category(sign) in _UNPRINTABLE for sign in line):
        said = "the text holds signs that do not print; write one plain line"
    elif not (line or blank):
        said = "the text is empty; write something a person can read"
    else:
        return line
    raise InvalidInput(said, path=(member,))


def plain_lines(text: str, member: str, *, most: int) -> str:
    """``text`` of several lines, each ended by a newline alone, in NFC [1].

    Blanks at its ends are dropped.

    Args:
        text: what was given.
        member: its name in the document, for the message's path.
        most: how long it may be [characters].

    Raises:
        InvalidInput: it is too long, or holds signs that do not print.

    References:
        [1] Unicode Standard Annex 15, Normalization Form C.
    """
    lines = unicodedata.normalize("NFC", text.replace("\r\n", "\n")).strip()
    if len(lines) > most:
        said = f"{len(lines)} characters are too many; use at most {most}"
    elif any(map(_breaks_lines, lines)):
        said = "the text holds signs that do not print; write plain lines"
    else:
        return lines
    raise InvalidInput(said, path=(member,))


def _breaks_lines(sign: str) -> bool:
    return sign != "\n" and unicodedata.category(sign) in _UNPRINTABLE
