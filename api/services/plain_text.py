"""Free text that people add to what is stored: printable, and not too long.

References:
    [1] Unicode Standard Annex 15, Normalization Form C.
    [2] Unicode Technical Standard 51, emoji joined to one by U+200D; Persian needs
        U+200C within words.
"""

from __future__ import annotations

import unicodedata

from pricing.errors import InvalidInput

MOST_CHARACTERS = 200
# Controls, format marks, lone surrogates, line and paragraph separators: they can
# forge a line of a log, turn text round, or break the storage.
_UNPRINTABLE = frozenset({"Cc", "Cf", "Cs", "Zl", "Zp"})
_WITHIN_LINES = frozenset("\n\t\u200c\u200d")
# Unicode gives controls no names.
_CONTROLS = {"\t": "TAB", "\n": "LINE FEED", "\r": "CARRIAGE RETURN", "\x1b": "ESCAPE"}


def sought(text: str) -> str:
    """A text to be looked for, as what is stored is written: in NFC; see [1].

    Blanks at its ends are dropped.
    """
    return unicodedata.normalize("NFC", text.strip())


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
    elif odd := _unprintable(line):
        said = f"the text holds {odd}, which does not print; write one plain line"
    elif not (line or blank):
        said = "the text is empty; write something a person can read"
    else:
        return line
    raise InvalidInput(said, path=(member,))


def plain_lines(text: str, member: str, *, most: int) -> str:
    """``text`` of several lines, each ended by a newline alone, in NFC; see [1].

    Blanks at its ends are dropped. Tabs and what joins letters or emoji stay; see [2].

    Args:
        text: what was given.
        member: its name in the document, for the message's path.
        most: how long it may be [characters].

    Raises:
        InvalidInput: it is too long, or holds signs that do not print.
    """
    lines = unicodedata.normalize("NFC", text.replace("\r\n", "\n")).strip()
    if len(lines) > most:
        said = f"{len(lines)} characters are too many; use at most {most}"
    elif odd := _unprintable(lines, but=_WITHIN_LINES):
        said = f"the text holds {odd}, which does not print; write plain lines"
    else:
        return lines
    raise InvalidInput(said, path=(member,))


def _unprintable(text: str, *, but: frozenset[str] = frozenset()) -> str:
    """The first sign that does not print, by its number and name; empty for none."""
    for sign in text:
        if unicodedata.category(sign) in _UNPRINTABLE and sign not in but:
            name = _CONTROLS.get(sign) or unicodedata.name(sign, "")
            return f"U+{ord(sign):04X} {name}".rstrip()
    return ""
