"""From a form to the document that the wire takes, by the wire's own schema.

The schema says what each member is: a number is read as the visitor's country
writes it, a time in the workshop's zone, a box that is ticked as true. What is
left blank is left out. The document then goes through the very schema, so that
a page can do nothing that the wire would refuse.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime
from decimal import Decimal
from typing import Any
from zoneinfo import ZoneInfo

from babel import Locale
from marshmallow import ValidationError, fields

from api.schemas.described import Figure, MeanOrFigure
from api.schemas.exact import DecimalText
from api.schemas.fields import StrictBoolean, StrictInteger, UtcTime
from api.schemas.reading import faults as schema_faults
from api.web.sent_form import PERCENT, Form, Path
from api.web.typed_numbers import UnreadableNumber, wire_number
from pricing.errors import Fault, InvalidInput

Tree = dict[str, Any]

_PLAINER = {
    "this member is needed": "this is needed; fill it in",
    "there is no such member here; check its spelling or leave it out": (
        "this form knows no such field; load the page again"
    ),
}
_LOCAL_TIME = re.compile(r"\d{4}-\d\d-\d\dT\d\d:\d\d(?::\d\d)?", re.ASCII)
_DEEPEST = 12
_MEAN = "mean"
_NOWHERE = "this time does not exist: the clocks are put forward then"
_NO_YEAR = "this time is in no year that can be kept; look at the year"


@dataclass(frozen=True, slots=True)
class _Leaf:
    """What was typed into one field."""

    name: str
    typed: Sequence[str]


@dataclass(slots=True)
class ReadForm:
    """A document, the field each member came from, and what could not be read."""

    document: dict[str, Any] = field(default_factory=dict)
    names: dict[Path, str] = field(default_factory=dict)
    faults: tuple[Fault, ...] = ()

    def loaded(self, schema: Any) -> Any:
        """What the schema makes of the document.

        Raises:
            InvalidInput: with what could not be read and what the schema refuses.
        """
        found = {fault.path: fault for fault in self.faults}
        value = None
        try:
            value = schema.load(self.document)
        except ValidationError as error:
            for path, text in schema_faults(error):
                found.setdefault(path, Fault(path, _PLAINER.get(text, text)))
        if found:
            raise InvalidInput("some values cannot be used", faults=(*found.values(),))
        return value


class Reader:
    """Reads forms of one visitor."""

    def __init__(self, locale: Locale, zone: ZoneInfo) -> None:
        self._locale = locale
        self._zone = zone

    def document(self, form: Form, schema: Any) -> ReadForm:
        """The form as the document that ``schema`` takes; nothing is raised."""
        walk = _Walk(self._locale, self._zone)
        tree = _tree(form)
        members = walk.members(tree, schema.load_fields, ())
        return ReadForm(members, walk.names, tuple(walk.faults))


def _tree(form: Form) -> Tree:
    """The fields by the parts of their names."""
    tree: Tree = {}
    for name, typed in form.members().items():
        parts = name.split("-")[:_DEEPEST]
        at = tree
        for part in parts[:-1]:
            below = at.setdefault(part, {})
            at = below if isinstance(below, dict) else at
        at.setdefault(parts[-1], _Leaf(name, typed))
    return tree


class _Walk:
    """One form on its way into a document."""

    def __init__(self, locale: Locale, zone: ZoneInfo) -> None:
        self._locale = locale
        self._zone = zone
        self.names: dict[Path, str] = {}
        self.faults: list[Fault] = []

    def members(
        self, tree: Tree, known: Mapping[str, Any], path: Path
    ) -> dict[str, Any]:
        """An object; what is blank is left out."""
        found = {}
        for part, below in tree.items():
            name = part.removesuffix(PERCENT)
            kind = known.get(name)
            value = self._value(below, kind, (*path, name))
            if value is not None:
                found[name] = value
        return found

    def _value(self, below: Any, kind: Any, path: Path) -> Any:
        if isinstance(kind, fields.List):
            return self._list(below, kind.inner, path)
        if isinstance(below, _Leaf):
            return self._leaf(below, kind, path)
        if isinstance(kind, fields.Nested):
            return self.members(below, kind.schema.load_fields, path) or None
        inline = getattr(kind, "inline", None)  # a document in place of a key
        if inline is not None:
            return self.members(below, inline.load_fields, path) or None
        entry = getattr(kind, "value_field", None)
        return (
            self.members(below, dict.fromkeys(map(_bare, below), entry), path) or None
        )

    def _list(self, below: Any, kind: Any, path: Path) -> list[Any]:
        if isinstance(below, _Leaf):
            self.names[path] = below.name
            entries = [_Leaf(below.name, (one,)) for one in below.typed]
        else:
            numbers = sorted((part for part in below if part.isdecimal()), key=int)
            entries = [below[number] for number in numbers]
        found: list[Any] = []
        for entry in entries:
            value = self._value(entry, kind, (*path, len(found)))
            if value is not None:
                found.append(value)
        return found

    def _leaf(self, leaf: _Leaf, kind: Any, path: Path) -> Any:
        self.names[path] = leaf.name
        text = leaf.typed[-1].strip() if leaf.typed else ""
        if not text:
            return None
        try:
            return self._read(text, kind, percent=leaf.name.endswith(PERCENT))
        except ValueError as error:
            self.faults.append(Fault(path, str(error)))
            return text

    def _read(self, text: str, kind: Any, *, percent: bool) -> Any:
        if isinstance(kind, MeanOrFigure) and text == _MEAN:
            return text
        if isinstance(kind, DecimalText | Figure) or percent:
            number = wire_number(text, self._locale)
            return _share(number) if percent else number
        if isinstance(kind, StrictInteger):
            number = wire_number(text, self._locale)
            return int(number) if "." not in number else number
        if isinstance(kind, StrictBoolean):
            return text == "true"
        if isinstance(kind, UtcTime) and _LOCAL_TIME.fullmatch(text):
            return self._instant(text)
        return text.replace("\r\n", "\n")

    def _instant(self, text: str) -> str:
        local = datetime.fromisoformat(text)
        try:
            instant = local.replace(tzinfo=self._zone).astimezone(UTC)
            again = instant.astimezone(self._zone).replace(tzinfo=None)
        except OverflowError:
            raise UnreadableNumber(_NO_YEAR) from None
        if again != local:
            raise UnreadableNumber(_NOWHERE)
        return instant.isoformat().replace("+00:00", "Z")


def _bare(part: str) -> str:
    return part.removesuffix(PERCENT)


def _share(number: str) -> str:
    """Per cent as a share, digit by digit."""
    share = format(Decimal(number).scaleb(-2), "f")
    return share.rstrip("0").rstrip(".") if "." in share else share
