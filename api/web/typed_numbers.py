"""Numbers as people type them: with the decimal sign of their country, never guessed.

The wire's numbers have a point. People write a comma or a point, and group digits
with the other one, with blanks or with apostrophes. What could be read in two ways
is refused, since it would be wrong by a factor of a thousand.

References:
    [1] Unicode CLDR, number symbols of a locale; ISO 80000-1, 7.3.2: the decimal sign
        is a comma or a point on the line.
"""

from __future__ import annotations

import re
from decimal import Decimal
from functools import lru_cache

from babel import Locale
from babel.numbers import get_decimal_symbol, get_group_symbol

LONGEST = 40

_BLANKS = re.compile("[ \u00a0\u2009\u202f'\u2019]")
_GROUPED = re.compile("[0-9]{1,3}(?:[ \u00a0\u2009\u202f'\u2019][0-9]{3})+", re.ASCII)
_PLAIN = re.compile("[0-9]*", re.ASCII)
_SIGNS = {"-": "-", "\u2212": "-", "+": ""}


class UnreadableNumber(ValueError):
    """What was typed is no number, or could be two; the text says what to write."""


def wire_number(typed: str, locale: Locale) -> str:
    """A typed number as the wire writes it.

    Raises:
        UnreadableNumber: it is none, or could be meant in two ways.

    >>> wire_number("27,50", Locale("de")), wire_number("1,234.50", Locale("en"))
    ('27.50', '1234.50')
    """
    text = typed.strip()
    sign = _SIGNS.get(text[:1], "")
    digits = text[1:].strip() if text[:1] in _SIGNS else text
    if not digits or len(digits) > LONGEST:
        raise UnreadableNumber(_no_number(typed, locale))
    grouped, fraction = _cut(digits, locale)
    whole = _ungrouped(grouped)
    if whole is None or not _PLAIN.fullmatch(fraction) or not whole + fraction:
        raise UnreadableNumber(_no_number(typed, locale))
    whole = whole.lstrip("0") or "0"
    return f"{sign}{whole}.{fraction}" if fraction else f"{sign}{whole}"


def whole_number(text: str, *, digits: int = 9) -> int | None:
    """A count or place that a page wrote into an address or a form; None for others.

    >>> whole_number("12"), whole_number("-1"), whole_number("1234", digits=3)
    (12, None, None)
    """
    plain = text.isascii() and text.isdecimal() and len(text) <= digits
    return int(text) if plain else None


def typed_number(value: Decimal | int, locale: Locale) -> str:
    """A number as it stands in a field, so that `wire_number` reads it back.

    >>> typed_number(Decimal("1234.50"), Locale("de")), typed_number(3, Locale("de"))
    ('1234,50', '3')
    """
    return format(Decimal(value), "f").replace(".", decimal_sign(locale))


@lru_cache(maxsize=256)
def decimal_sign(locale: Locale) -> str:
    """A comma or a point, whichever the locale writes nearest to."""
    return "," if get_decimal_symbol(locale) in {",", "\u066b"} else "."


def _cut(digits: str, locale: Locale) -> tuple[str, str]:
    """The digits before the decimal sign and those after it."""
    points, commas = digits.count("."), digits.count(",")
    if points and commas:
        last = "." if digits.rindex(".") > digits.rindex(",") else ","
        whole, _, fraction = digits.rpartition(last)
        return _parted(whole, "," if last == "." else "."), fraction
    mark = "." if points else ","
    if points + commas > 1:
        return _parted(digits, mark), ""
    whole, _, fraction = digits.partition(mark)
    if points + commas and _two_ways(whole, fraction, mark, locale):
        as_thousands, own = whole + fraction, decimal_sign(locale)
        raise UnreadableNumber(
            f"“{digits}” can be read in two ways: write {as_thousands} if you mean "
            f"thousands, or {whole}{own}{fraction}0 if the {fraction} come after the "
            "decimal sign"
        )
    return whole, fraction


def _two_ways(whole: str, fraction: str, mark: str, locale: Locale) -> bool:
    """Whether a mark could part thousands as well as decimals."""
    looks_grouped = len(fraction) == 3 and whole.strip("0") and len(whole) <= 3  # noqa: PLR2004 - a group has three digits
    own = mark == decimal_sign(locale) and mark != get_group_symbol(locale)
    return bool(looks_grouped) and not own


def _parted(whole: str, mark: str) -> str:
    """Groups of three parted by one mark, as groups parted by blanks."""
    return whole.replace(mark, " ")


def _ungrouped(whole: str) -> str | None:
    """Digits without what parts their groups; None where those are no groups."""
    if _PLAIN.fullmatch(whole):
        return whole
    return _BLANKS.sub("", whole) if _GROUPED.fullmatch(whole) else None


def _no_number(typed: str, locale: Locale) -> str:
    sign = decimal_sign(locale)
    return f"“{typed.strip()[:24]}” is not a number; write it like 27{sign}50"
