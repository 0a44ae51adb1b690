"""What a service has written already: handed on unchanged, and still described."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from typing import Any

from api.schemas.document import Answer
from api.schemas.exact import Field
from api.schemas.fields import PatternText


class Written(Answer):
    """A document that a service wrote, of exactly these members."""

    def written(self, obj: Any) -> dict[str, Any]:
        """The document itself.

        Raises:
            AttributeError: a member too few or too many.
        """
        document: dict[str, Any] = obj
        if document.keys() != self.dump_fields.keys():
            odd = sorted(document.keys() ^ self.dump_fields.keys())
            raise AttributeError(f"{type(self).__name__} differs in {', '.join(odd)}")
        return document


class AsWritten(Field):
    """A document as it was written once, of a shape that has a schema."""

    def __init__(self, shape: Answer, **settings: Any) -> None:
        super().__init__(**settings)
        self.shape = shape

    def keywords(self) -> Mapping[str, Any]:
        """That shape."""
        return {"$ref": self.shape}


class DayText(PatternText):
    """A day in the workshop's time zone (RFC 3339, full-date)."""

    pattern = "^[0-9]{4}-[0-9]{2}-[0-9]{2}$"
    form = "a day, such as 2026-12-24"

    def _serialize(self, value: date | None, *_: Any, **__: Any) -> str | None:
        return None if value is None else value.isoformat()
