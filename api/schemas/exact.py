"""Exact numbers on the wire: text in both directions, never rounded.

The pattern of a field is matched before anything is worked out, and is the one
the OpenAPI document shows.

References:
    [1] RFC 7493 (I-JSON) §2.2: exact numbers travel as text.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from marshmallow import ValidationError, fields

from api.schemas.document import PLAIN_WORDS

_PLAIN = re.compile(r"-?(0|[1-9][0-9]{0,11})(\.[0-9]+)?", re.ASCII)


class Field(fields.Field[Any]):
    """Base of our own fields: they speak plainly and document themselves."""

    default_error_messages = PLAIN_WORDS

    def keywords(self) -> Mapping[str, Any]:
        """What JSON Schema can say about the values."""
        return {}


@dataclass(frozen=True, slots=True, kw_only=True)
class Bounds:
    """The range of a number: at least, at most, or strictly above and below."""

    least: Decimal | int | None = None
    above: Decimal | int | None = None
    most: Decimal | int | None = None
    below: Decimal | int | None = None

    def hold(self, number: Decimal) -> bool:
        """Whether the number is inside."""
        return (
            (self.least is None or number >= self.least)
            and (self.above is None or number > self.above)
            and (self.most is None or number <= self.most)
            and (self.below is None or number < self.below)
        )

    @property
    def words(self) -> str:
        """The range in words, '' if there is none.

        >>> Bounds(above=0, most=1).words
        'more than 0, at most 1'
        """
        named = (
            ("at least", self.least),
            ("more than", self.above),
            ("at most", self.most),
            ("less than", self.below),
        )
        return ", ".join(f"{word} {end}" for word, end in named if end is not None)

    @property
    def head(self) -> str:
        """How the pattern of such a number begins: sign or not, zero or not."""
        floor = self.least if self.above is None else self.above
        sign = "-?" if floor is None or floor < 0 else ""
        not_zero = r"(?!0(\.0+)?$)" if self.above == 0 else ""
        return not_zero + sign

    def whole(self, places: int) -> str:
        """How it goes on, with so many decimals at most [digits]."""
        if self.head.endswith("?") or 1 not in {self.most, self.below}:
            return f"(0|[1-9][0-9]{{0,11}})(\\.[0-9]{{1,{places}}})?"
        under_one = f"0(\\.[0-9]{{1,{places}}})?"
        if self.below == 1:
            return under_one
        return f"({under_one}|1(\\.0{{1,{places}}})?)"


ANY = Bounds()
NOT_NEGATIVE = Bounds(least=0)
POSITIVE = Bounds(above=0)
SHARE = Bounds(least=0, most=1)
SHARE_BELOW_ONE = Bounds(least=0, below=1)


class DecimalText(Field):
    """An exact decimal number, as text in both directions."""

    places = 9

    def __init__(self, *, bounds: Bounds = ANY, **settings: Any) -> None:
        super().__init__(**settings)
        self.bounds = bounds
        if isinstance(self.load_default, str):  # a default may be written as text too
            self.load_default = Decimal(self.load_default)
        self.pattern = f"^{bounds.head}{bounds.whole(self.places)}$"
        self._match = re.compile(self.pattern, re.ASCII).fullmatch

    def keywords(self) -> Mapping[str, Any]:
        """The pattern, and the range in words."""
        words = self.bounds.words
        return {"pattern": self.pattern} | ({"x-range": words} if words else {})

    def _deserialize(self, value: Any, *_: Any, **__: Any) -> Decimal:
        if not isinstance(value, str):
            raise ValidationError(
                'an exact number is written as text, such as "27.50", in quotes'
            )
        if not self._match(value) or not self.bounds.hold(number := Decimal(value)):
            raise ValidationError(self._why_not(value))
        return number or number.copy_abs()

    def _why_not(self, text: str) -> str:
        plain = _PLAIN.fullmatch(text)
        if plain and len(plain[2] or ".") - 1 > self.places:
            return f"at most {self.places} decimals are taken here"
        if plain and self.bounds.words:
            return f"{text[:24]} is out of range; it has to be {self.bounds.words}"
        return (
            f'this is not a plain number; write it like "27.50": digits and a '
            f"point, at most 12 before it and {self.places} after it"
        )

    def _serialize(self, value: Any, *_: Any, **__: Any) -> str | None:
        return None if value is None else plain_text(value)


def plain_text(number: Decimal | int) -> str:
    """A number as it is written on the wire: all digits, no exponent, no minus zero.

    Raises:
        TypeError: not an exact number.
        ValueError: not finite.

    >>> plain_text(Decimal("1E+3"))
    '1000'
    """
    if type(number) is int:
        return str(number)
    if not isinstance(number, Decimal):
        raise TypeError(f"{type(number).__name__} is not an exact number")
    if not number.is_finite():
        raise ValueError(f"{number} has no place in an answer")
    return format(number or number.copy_abs(), "f")


class MoneyText(DecimalText):
    """An amount [currency of the document], to a hundredth of a cent."""

    places = 4


class SpotText(DecimalText):
    """A price per troy ounce [currency/ozt]."""

    places = 4


class RateText(DecimalText):
    """A share or rate as a plain fraction: 0.12 is 12 %."""

    places = 6


class MassText(DecimalText):
    """A mass [g]."""

    places = 4


class LengthText(DecimalText):
    """A length [mm]."""

    places = 4
