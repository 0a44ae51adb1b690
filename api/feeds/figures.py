"""Figures in an answer: exact, above zero, and never guessed."""

from __future__ import annotations

import re
from decimal import Decimal

from api.ports.feeds import DecimalMark, FeedFailed
from pricing.money import ZERO

MOST_DIGITS = 40
LARGEST = Decimal(10**12)
SMALLEST = Decimal("1e-12")

_MISSING = {"", "-", "--", ".", "n/a", "na", "nd", "nan", "null", "none"}
# A plain, a no-break and a narrow no-break space; a straight and a curved mark.
_BLANKS = " \u00a0\u202f"
_TICKS = "'\u2019"
_GROUPS: dict[str, str] = {".": f",{_BLANKS}{_TICKS}", ",": f".{_BLANKS}{_TICKS}"}
_EXCERPT = re.compile(r"[0-9.,+'\u2019 -]{1,24}")


def figure(raw: object, *, mark: DecimalMark) -> Decimal:
    """A figure above zero, as the answer gives it [any unit].

    Args:
        raw: a number, or a text of one with ``mark`` before its decimals and
            perhaps signs between its thousands.
        mark: empty where unknown; then a text that could be read in two ways,
            such as 1.234, is refused.

    Raises:
        FeedFailed: no number, not above zero, or beyond any price.

    >>> figure("1.234,56", mark=",")
    Decimal('1234.56')
    """
    number = _number(raw)
    if number is None:
        number = _read(raw, mark)
    if number <= ZERO:
        raise FeedFailed(
            "not_positive", f"The price is {_said(number)}; a price is above 0."
        )
    digits = len(number.as_tuple().digits)
    if not (SMALLEST <= number <= LARGEST and digits <= MOST_DIGITS):
        raise FeedFailed(
            "number_out_of_range",
            f"The price has {digits} digits or is too large or too small to be one.",
        )
    return number


def is_missing(raw: object) -> bool:
    """Whether a row has no price here: nothing, zero, or a mark for that.

    >>> is_missing(None), is_missing(0), is_missing("n/a"), is_missing("0,00")
    (True, True, True, True)
    """
    if isinstance(raw, str):
        text = raw.strip().lower()
        return text in _MISSING or re.fullmatch(r"0+(?:[.,]0*)?", text) is not None
    return raw is None or _number(raw) == ZERO


def _number(raw: object) -> Decimal | None:
    if isinstance(raw, int | Decimal) and not isinstance(raw, bool):
        return Decimal(raw)
    return None


def _read(raw: object, mark: DecimalMark) -> Decimal:
    if not isinstance(raw, str):
        raise FeedFailed("not_a_price", f"The path leads to {kind(raw)}, not a price.")
    text = raw.strip()
    if len(text) > MOST_DIGITS:
        raise FeedFailed(
            "not_a_price", f"A text of {len(text)} characters is no price."
        )
    return _from_text(text, mark or _mark_of(text))


def kind(raw: object) -> str:
    """What a value is, in words.

    >>> kind(None), kind([1])
    ('nothing (null)', 'a list')
    """
    if raw is None:
        return "nothing (null)"
    if isinstance(raw, bool):
        return "true or false"
    if isinstance(raw, dict):
        return "a table"
    return "a list" if isinstance(raw, list) else "a text"


def _mark_of(text: str) -> DecimalMark:
    """The mark before the decimals, found out; a point where there are none."""
    marks = [sign for sign in text if sign in ".,"]
    last: DecimalMark = "," if text.rfind(",") > text.rfind(".") else "."
    other: DecimalMark = "." if last == "," else ","
    if len(marks) > 1 and marks.count(last) > 1:
        return other  # repeated, so it parts the thousands
    if len(marks) == 1 and re.fullmatch(r"[+-]?[1-9][0-9]{0,2}[.,][0-9]{3}", text):
        raise FeedFailed(
            "ambiguous_number",
            f"{_excerpt(text)} can be read in two ways; set decimal_mark to say "
            "whether a point or a comma comes before the decimals.",
        )
    return last


def _from_text(text: str, mark: str) -> Decimal:
    for group in ("", *_GROUPS[mark]):
        thousands = rf"[0-9]{{1,3}}(?:{re.escape(group)}[0-9]{{3}})+|" if group else ""
        shape = rf"[+-]?(?:{thousands}[0-9]+)(?:{re.escape(mark)}[0-9]+)?"
        if re.fullmatch(shape, text):
            plain = text.replace(group, "") if group else text
            return Decimal(plain.replace(mark, "."))
    raise FeedFailed(
        "not_a_price",
        f"{_excerpt(text)} is not a number with '{mark}' before its decimals.",
    )


def _said(number: Decimal) -> str:
    return "0" if number == ZERO else "below 0"


def _excerpt(text: str) -> str:
    """What may be shown of a text: figures and their signs, or none of it."""
    return f"'{text}'" if _EXCERPT.fullmatch(text) else "The text"
