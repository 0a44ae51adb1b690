"""The base of every document, and the ways to put one into another."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from functools import cached_property, lru_cache
from operator import attrgetter
from typing import Any
from weakref import ReferenceType, ref

import orjson
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

    def encoded(self, obj: Any) -> bytes:
        """The document of ``obj`` as JSON."""
        return orjson.dumps(self.dump(obj))

    def get_attribute(self, obj: Any, attr: str, default: Any) -> Any:
        """The value to write; a missing one is a fault, not a shorter answer."""
        value = super().get_attribute(obj, attr, default)
        if value is missing:
            raise AttributeError(
                f"{type(self).__name__} was given nothing for '{attr}'"
            )
        return value


class Remembered:
    """Remembers the JSON of objects for as long as they live.

    For values that are asked for again and again; they have to be immutable.
    """

    def __init__(self) -> None:
        self._known: dict[int, tuple[ReferenceType[Any], bytes]] = {}

    def __len__(self) -> int:
        return len(self._known)

    def encoded(self, obj: Any, write: Callable[[Any], bytes]) -> bytes:
        """What ``write`` makes of ``obj``, now or before."""
        name = id(obj)
        known = self._known.get(name)
        if known is not None and known[0]() is obj:
            return known[1]
        text = write(obj)
        # The name may be another object's as soon as this one is gone.
        gone = ref(obj, lambda _: self._known.pop(name, None))
        self._known[name] = (gone, text)
        return text


class Part(fields.Nested):
    """A document inside another.

    With ``kept`` the documents written last are kept, for values that come again
    and again unchanged; they have to be immutable.
    """

    default_error_messages = PLAIN_WORDS | {
        "type": "this has to be an object, with members in braces"
    }

    def __init__(self, nested: Any, *, kept: bool = False, **settings: Any) -> None:
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
        write = field.schema.written
        return _unless_none(lru_cache(maxsize=512)(write) if field.kept else write)
    if isinstance(field, fields.List):
        inner = _writer(field.inner)
        return _unless_none(lambda values: [inner(value) for value in values])
    serialize = field._serialize  # noqa: SLF001 - the library's own hook for writing
    return lambda value: serialize(value, "", None)


def _unless_none(write: Write) -> Write:
    return lambda value: None if value is None else write(value)
