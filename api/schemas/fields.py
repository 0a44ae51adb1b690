"""The fields of the wire, stricter than the library's own.

References:
    [1] RFC 3339 §5.6, times with an offset; lower-case letters and second 60 are
        allowed by it, the basic form is not.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Mapping, Sequence
from datetime import UTC, datetime, timedelta, timezone
from difflib import get_close_matches
from typing import Any

from marshmallow import ValidationError, validate

from api.schemas.document import Document, ListOf, Part
from api.schemas.exact import (
    ANY,
    NOT_NEGATIVE,
    POSITIVE,
    SHARE,
    SHARE_BELOW_ONE,
    Bounds,
    DecimalText,
    Field,
    LengthText,
    MassText,
    MoneyText,
    RateText,
    SpotText,
    plain_text,
)

__all__ = [
    "ANY",
    "NOT_NEGATIVE",
    "POSITIVE",
    "SHARE",
    "SHARE_BELOW_ONE",
    "Bounds",
    "Choice",
    "CurrencyText",
    "DecimalText",
    "Document",
    "Field",
    "KeyText",
    "LengthText",
    "ListOf",
    "MassText",
    "MoneyText",
    "Part",
    "PatternText",
    "QueryInteger",
    "RateText",
    "SpotText",
    "StrictBoolean",
    "StrictInteger",
    "Text",
    "Truth",
    "UtcTime",
    "plain_text",
]

_CONTROLS = re.compile("[\x00-\x1f\x7f-\x9f\u2028\u2029\ud800-\udfff]")
_LINE_END_AND_TAB = {9: " ", 10: " "}
_TIME = re.compile(
    r"(\d{4}-\d\d-\d\d)[Tt](\d\d:\d\d):(\d\d)(\.\d{1,9})?(?:[Zz]|([+-])(\d\d):([0-5]\d))",
    re.ASCII,
)
_PLUS_LOST = re.compile(r":\d\d(?:\.\d+)? \d\d:\d\d$", re.ASCII)


class Text(Field):
    """Text of a limited length, normalised to NFC; on one line unless ``lines``."""

    def __init__(
        self, *, most: int, least: int = 0, lines: bool = False, **settings: Any
    ) -> None:
        super().__init__(**settings)
        self.least, self.most, self.lines = least, most, lines

    def keywords(self) -> Mapping[str, Any]:
        """The lengths, in characters."""
        return {"maxLength": self.most} | (
            {"minLength": self.least} if self.least else {}
        )

    def _deserialize(self, value: Any, *_: Any, **__: Any) -> str:
        if not isinstance(value, str):
            raise ValidationError("this has to be text, in quotes")
        # Forms on the web end their lines with both signs.
        given = value.replace("\r\n", "\n") if self.lines else value
        text = unicodedata.normalize("NFC", given)
        if not self.least <= len(text) <= self.most:
            raise ValidationError(
                f"text of {self.least} to {self.most} characters is taken here, "
                f"not {len(text)}"
            )
        if _CONTROLS.search(text.translate(_LINE_END_AND_TAB) if self.lines else text):
            other = "but plain line ends" if self.lines else "and line ends"
            raise ValidationError(f"control characters {other} are not taken here")
        return text


class PatternText(Field):
    """Text of one fixed form; says ``form`` when it is not met."""

    pattern = r"^[a-z0-9][a-z0-9_]{0,63}$"
    form = "a key: 1 to 64 lower-case letters, digits and underscores"

    def keywords(self) -> Mapping[str, Any]:
        """The pattern, and what it means in words."""
        return {"pattern": self.pattern, "x-form": self.form}

    def _deserialize(self, value: Any, *_: Any, **__: Any) -> str:
        if not isinstance(value, str) or not re.fullmatch(
            self.pattern, value, re.ASCII
        ):
            raise ValidationError(f"this has to be {self.form}")
        return value


class KeyText(PatternText):
    """The key of an entry in the price book or the catalogue."""


class CurrencyText(PatternText):
    """A currency code (ISO 4217); which ones are sold in is checked later."""

    pattern = "^[A-Z]{3}$"
    form = "a currency code of three capital letters, such as EUR"


class StrictInteger(Field):
    """A whole number as a JSON number; both ends of its range are always given."""

    def __init__(self, *, least: int, most: int, **settings: Any) -> None:
        super().__init__(**settings)
        self.least, self.most = least, most

    def keywords(self) -> Mapping[str, Any]:
        """The range."""
        return {"minimum": self.least, "maximum": self.most}

    def _deserialize(self, value: Any, *_: Any, **__: Any) -> int:
        number = self._read(value)
        if number is None or not self.least <= number <= self.most:
            raise ValidationError(
                f"a whole number from {self.least} to {self.most} is taken here"
            )
        return number

    @staticmethod
    def _read(value: Any) -> int | None:
        whole = isinstance(value, int) and not isinstance(value, bool)
        return value if whole else None


class QueryInteger(StrictInteger):
    """A whole number in a query, where everything is text."""

    @staticmethod
    def _read(value: Any) -> int | None:
        return int(value) if re.fullmatch("-?[0-9]{1,18}", value, re.ASCII) else None


class StrictBoolean(Field):
    """True or false, and nothing that merely looks like it."""

    def _deserialize(self, value: Any, *_: Any, **__: Any) -> bool:
        if not isinstance(value, bool):
            raise ValidationError("this has to be true or false, without quotes")
        return value


class Choice(Field):
    """One of a few words."""

    def __init__(self, options: Sequence[str], **settings: Any) -> None:
        super().__init__(validate=validate.OneOf(options), **settings)
        self.options = tuple(options)

    def _deserialize(self, value: Any, *_: Any, **__: Any) -> str:
        if isinstance(value, str) and value in self.options:
            return value
        close = get_close_matches(str(value)[:64], self.options, n=1)
        hint = f"; did you mean {close[0]}?" if close else ""
        raise ValidationError(f"this has to be one of {', '.join(self.options)}{hint}")


class Truth(Choice):
    """True or false in a query, where everything is text."""

    def __init__(self, **settings: Any) -> None:
        super().__init__(("true", "false"), **settings)
        self.validators = []

    def _deserialize(self, value: Any, *_: Any, **__: Any) -> bool:  # type: ignore[override]
        return super()._deserialize(value) == "true"


class UtcTime(Field):
    """A point in time with its offset, read to the microsecond and written in UTC."""

    def _deserialize(self, value: Any, *_: Any, **__: Any) -> datetime:
        found = _TIME.fullmatch(value) if isinstance(value, str) else None
        try:
            return _instant(*found.groups()) if found else _no_instant()
        except (ValueError, OverflowError):
            lost = isinstance(value, str) and _PLUS_LOST.search(value)
            raise ValidationError(
                'this has to be a time with its offset, such as "2026-11-25T09:30:00Z"'
                + ("; in an address the + of an offset is written %2B" if lost else "")
            ) from None

    def _serialize(self, value: datetime | None, *_: Any, **__: Any) -> str | None:
        if value is None:
            return None
        text = value.astimezone(UTC).isoformat(timespec="milliseconds")
        return text.removesuffix("+00:00") + "Z"


def _no_instant() -> datetime:
    raise ValueError


def _instant(*parts: str | None) -> datetime:
    day, minute, second, fraction, sign, hours, minutes = parts
    leap = second == "60"  # Python has no second 60: it is the next one's first
    text = f"{day}T{minute}:{'59' if leap else second}{(fraction or '')[:7]}"
    offset = timedelta(hours=int(hours or 0), minutes=int(minutes or 0))
    zone = timezone(-offset if sign == "-" else offset)
    moment = datetime.fromisoformat(text).replace(tzinfo=zone).astimezone(UTC)
    return moment + timedelta(seconds=1) if leap else moment
