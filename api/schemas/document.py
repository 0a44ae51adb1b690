"""The base of every document, and the ways to put one into another."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from functools import cached_property, lru_cache
from operator import attrgetter
from typing import Any, Literal

from marshmallow import RAISE, Schema, fields, missing, validate

Find = Callable[[Any], Any]
Write = Callable[[Any], Any]
Plan = tuple[tuple[str, Find, Write], ...]

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


class Part(fields.Nested):
    """A document inside another.

    With ``kept`` the documents written last are kept, for values that come again
    and again unchanged; they have to be immutable. ``kept="itself"`` knows a value
    again only by being the very same object, which is sooner found out.
    """

    default_error_messages = PLAIN_WORDS | {
        "type": "this has to be an object, with members in braces"
    }

    def __init__(
        self,
        nested: Any,
        *,
        kept: bool | Literal["itself"] = False,
        **settings: Any,
    ) -> None:
        super().__init__(nested, **settings)
        self.kept = kept


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


class Answer(Document):
    """A document that is only written: every member is always there.

    It is written by a plan made once for each schema. The library's own walk asks
    every member of every document anew how it is found and written, which for the
    400 members of an estimate takes longer than working it out.
    """

    def on_bind_field(self, field_name: str, field_obj: fields.Field[Any]) -> None:
        """Say so in the description, where a reader relies on it."""
        super().on_bind_field(field_name, field_obj)
        field_obj.required = True

    def arranged(self, obj: Any) -> Any:
        """What the members are taken from; a document may arrange it first."""
        return obj

    def dump(self, obj: Any, *, many: bool | None = None) -> Any:
        """The document of ``obj``, or of each in it.

        Raises:
            AttributeError: nothing is there for a member.
        """
        return [self.written(each) for each in obj] if many else self.written(obj)

    def written(self, obj: Any) -> dict[str, Any]:
        """The document of one object."""
        source = self.arranged(obj)
        plan = self._from_table if isinstance(source, dict) else self._from_object
        return {name: write(find(source)) for name, find, write in plan}

    @cached_property
    def _from_object(self) -> Plan:
        return tuple(
            (name, attrgetter(field.attribute or name), _writer(field))
            for name, field in self.dump_fields.items()
        )

    @cached_property
    def _from_table(self) -> Plan:
        return tuple(
            (name, _member(field.attribute or name), write)
            for (name, _, write), field in zip(
                self._from_object, self.dump_fields.values(), strict=True
            )
        )


def _member(name: str) -> Find:
    """How a member of a table is found; a missing one is a fault."""

    def find(source: Mapping[str, Any]) -> Any:
        if name not in source:
            raise AttributeError(f"nothing was given for '{name}'")
        return source[name]

    return find


def _writer(field: fields.Field[Any]) -> Write:
    """How a member's value is written."""
    if isinstance(field, Part) and isinstance(field.schema, Answer):
        return _unless_none(_keeping(field.kept, field.schema.written))
    if isinstance(field, fields.List):
        inner = _writer(field.inner)
        return _unless_none(lambda values: [inner(value) for value in values])
    serialize = field._serialize  # noqa: SLF001 - the library's own hook for writing
    return lambda value: serialize(value, "", None)


def _keeping(kept: Literal[True, False, "itself"], write: Write) -> Write:
    if kept == "itself":
        by_identity = lru_cache(maxsize=2048)(lambda same: write(same.value))
        return lambda value: by_identity(_Same(value))
    return lru_cache(maxsize=512)(write) if kept else write


class _Same:
    """A value that equals nothing but itself."""

    __slots__ = ("value",)

    def __init__(self, value: Any) -> None:
        self.value = value

    def __hash__(self) -> int:
        return id(self.value)

    def __eq__(self, other: object) -> bool:
        return isinstance(other, _Same) and self.value is other.value


def _unless_none(write: Write) -> Write:
    return lambda value: None if value is None else write(value)
