"""Documents that the model itself reads: declared here only to be described.

The reader in ``pricing`` finds every fault, so nothing is checked twice. What is
declared is what OpenAPI shows; tests hold that it is what the reader takes.
"""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal
from typing import Any

from marshmallow import Schema, ValidationError

from api.schemas.document import Document, ListOf, Part
from api.schemas.fields import Choice, Field, PatternText, StrictBoolean, StrictInteger
from api.schemas.fields import Text as Characters
from pricing.price_book.limits import MOST_CHARACTERS, MOST_ENTRIES, Limits


class Described(Document):
    """A document handed on as it came, for the model to read."""

    def load(self, data: Any, **_: Any) -> Any:
        """The members as they stand. Raises ValidationError for no object."""
        if not isinstance(data, Mapping):
            raise ValidationError(self.error_messages["type"])
        return data

    def dump(self, obj: Any, **_: Any) -> Any:
        """The document as the model wrote it."""
        return obj


class Figure(Field):
    """An exact figure: text, or a whole number; null is as good as left out."""

    def __init__(self, limits: Limits, about: str, *, needed: bool = False) -> None:
        super().__init__(
            required=needed, allow_none=not needed, metadata={"description": about}
        )
        self.limits = limits

    def keywords(self) -> Mapping[str, Any]:
        """Type, pattern, and the range in words."""
        least = self.limits.least if self.limits.over is None else self.limits.over
        sign = "-?" if least is None or least < 0 else ""
        types = ["string", "integer", *(["null"] if self.allow_none else [])]
        pattern = rf"^{sign}(0|[1-9][0-9]{{0,11}})(\.[0-9]{{1,9}})?$"
        return {
            "type": types,
            "format": "decimal",
            "pattern": pattern,
            "x-range": str(self.limits),
        }


class MeanOrFigure(Figure):
    """A figure, or the word mean."""

    def keywords(self) -> Mapping[str, Any]:
        """As for a figure, with the word."""
        words = dict(super().keywords())
        words["pattern"] = rf"^mean$|{words['pattern']}"
        return words


class Line(Characters):
    """A line of text, not blank where it is needed."""

    def __init__(
        self, about: str, *, needed: bool = False, most: int = MOST_CHARACTERS
    ) -> None:
        super().__init__(
            least=1 if needed else 0,
            most=most,
            required=needed,
            allow_none=not needed,
            metadata={"description": about},
        )

    def keywords(self) -> Mapping[str, Any]:
        """The lengths, and that something stands there."""
        words = dict(super().keywords())
        return words | ({"pattern": r"\S"} if self.required else {})


class Name(PatternText):
    """A key of the model."""

    pattern = "^[a-z0-9][a-z0-9_]{0,39}$"
    form = "a key: 1 to 40 lower-case letters, digits and underscores"

    def __init__(self, about: str = "", *, needed: bool = True) -> None:
        super().__init__(
            required=needed,
            allow_none=not needed,
            metadata={"description": about} if about else {},
        )


class Whole(StrictInteger):
    """A whole number, without quotes."""

    def __init__(self, limits: Limits, about: str, *, needed: bool = False) -> None:
        super().__init__(
            least=int(limits.least or 0),
            most=int(limits.most or Decimal(0)),
            required=needed,
            allow_none=not needed,
            metadata={"description": about},
        )


class Flag(StrictBoolean):
    """True or false."""

    def __init__(self, about: str) -> None:
        super().__init__(allow_none=True, metadata={"description": about})


class Word(Choice):
    """One of a few words."""

    def __init__(self, options: tuple[str, ...], about: str) -> None:
        super().__init__(options, allow_none=True, metadata={"description": about})


class Table(Part):
    """A table inside another."""

    def __init__(
        self, shape: type[Schema], about: str, *, needed: bool = False
    ) -> None:
        super().__init__(
            shape,
            required=needed,
            allow_none=not needed,
            metadata={"description": about},
        )


class Row(Part):
    """One table of a list."""


class Many(ListOf):
    """A list of tables, keys or figures; ``least`` above 0 makes it needed."""

    def __init__(self, inner: Any, about: str, *, least: int = 0) -> None:
        super().__init__(
            Row(inner) if isinstance(inner, type) else inner,
            most=MOST_ENTRIES,
            least=least,
            required=least > 0,
            allow_none=least == 0,
            metadata={"description": about},
        )
