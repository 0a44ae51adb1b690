"""The base of every document, and the ways to put one into another."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from marshmallow import RAISE, Schema, fields, missing, validate

PLAIN_WORDS: dict[str, str | list[Any] | dict[Any, Any]] = {
    "required": "this member is needed",
    "null": "null is not a value here; give one or leave the member out",
}


class Document(Schema):
    """A document that refuses unknown members and never leaves out one of its own."""

    class Meta:
        """Nothing unknown is ever passed over."""

        unknown = RAISE

    error_messages: Mapping[str, str] = {  # type: ignore[assignment]
        "type": "this has to be an object, with members in braces",
        "unknown": "there is no such member here; check its spelling or leave it out",
    }

    def get_attribute(self, obj: Any, attr: str, default: Any) -> Any:
        """The value to write; a missing one is a fault, not a shorter answer."""
        value = super().get_attribute(obj, attr, default)
        if value is missing:
            raise AttributeError(
                f"{type(self).__name__} was given nothing for '{attr}'"
            )
        return value


class Answer(Document):
    """A document that is only written: every member is always there."""

    def on_bind_field(self, field_name: str, field_obj: fields.Field[Any]) -> None:
        """Say so in the description, where a reader relies on it."""
        super().on_bind_field(field_name, field_obj)
        field_obj.required = True


class Part(fields.Nested):
    """A document inside another."""

    default_error_messages = PLAIN_WORDS | {
        "type": "this has to be an object, with members in braces"
    }


class ListOf(fields.List[Any]):
    """A list with a largest length."""

    default_error_messages = PLAIN_WORDS | {
        "invalid": "this has to be a list, in square brackets"
    }

    def __init__(
        self, inner: fields.Field[Any], *, most: int, least: int = 0, **settings: Any
    ) -> None:
        length = validate.Length(
            least, most, error=f"a list of {least} to {most} entries is taken here"
        )
        super().__init__(inner, validate=length, **settings)
