"""A form as it was typed: every value kept, and what was wrong beside it."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace

from werkzeug.datastructures import MultiDict

Path = tuple[str | int, ...]

PERCENT = ".pct"
"""End of the name of a field in which a share is typed as per cent."""
_OURS = "_"
_INDEX = re.compile("(?:0|[1-9][0-9]{0,3})", re.ASCII)


@dataclass(frozen=True, slots=True)
class FormFault:
    """What is wrong with a field; '' names no field but the form as a whole."""

    name: str
    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Form:
    """What was typed into a form.

    Names are members of the wire's document with hyphens between: ``lines-0-size``.
    Names that begin with ``_`` are the form's own business and never part of it.

    Attributes:
        values: what was sent, by name.
        faults: what is wrong with it, in the order of the document.
        names: path in the document → name of the field it was read from.
    """

    values: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    faults: tuple[FormFault, ...] = ()
    names: dict[Path, str] = field(default_factory=dict)

    @classmethod
    def of(cls, sent: MultiDict[str, str]) -> Form:
        """What a request brought."""
        return cls(values={name: tuple(typed) for name, typed in sent.lists()})

    @property
    def sent(self) -> bool:
        """Whether anything was."""
        return bool(self.values)

    def text(self, name: str, otherwise: str = "") -> str:
        """What was typed under a name; ``otherwise`` only where nothing was sent."""
        typed = self.values.get(name)
        if typed:
            return typed[-1]
        return "" if self.sent else otherwise

    def chosen(self, name: str, option: str, otherwise: str | bool = False) -> bool:  # noqa: FBT001, FBT002 - as templates call it
        """Whether an option is chosen, of one choice or of several."""
        if self.sent:
            return option in self.values.get(name, ())
        return option == otherwise if isinstance(otherwise, str) else otherwise

    def wants(self, deed: str) -> bool:
        """Whether it was sent by the button of this deed (`parts.button`)."""
        return deed in self.values.get("_do", ())

    def deed(self, begins: str) -> str | None:
        """What follows in the name of the button, as the 3 of ``drop-3``."""
        typed = self.text("_do")
        return typed.removeprefix(begins) if typed.startswith(begins) else None

    def rows(self, prefix: str, least: int = 1) -> list[int]:
        """The numbers in use of the entries of a list, at least the first few."""
        start = f"{prefix}-"
        found = {
            int(number)
            for name in self.values
            if name.startswith(start)
            and _INDEX.fullmatch(number := name.removeprefix(start).partition("-")[0])
        }
        return sorted(found) or list(range(least))

    def fault(self, name: str) -> str:
        """What is wrong with a field, or ''."""
        return " ".join(one.text for one in self.faults if one.name == name)

    def members(self) -> Mapping[str, tuple[str, ...]]:
        """What belongs to the document."""
        return {n: v for n, v in self.values.items() if not n.startswith(_OURS)}

    def with_values(self, **changed: str) -> Form:
        """The form with some values other than what was typed."""
        values = dict(self.values) | {name: (one,) for name, one in changed.items()}
        return replace(self, values=values)

    def without(self, prefix: str) -> Form:
        """The form without the fields below a name, as after an entry was dropped."""
        kept = {
            name: typed
            for name, typed in self.values.items()
            if name != prefix and not name.startswith(f"{prefix}-")
        }
        return replace(self, values=kept)

    def faulted(self, faults: Iterable[tuple[Path, str]]) -> Form:
        """The form with what is wrong with it, by the path in the document."""
        found = tuple(FormFault(self.name_of(path), text) for path, text in faults)
        return replace(self, faults=found)

    def name_of(self, path: Path) -> str:
        """The field that stands for a member: its own, or the nearest above it."""
        if path in self.names:
            return self.names[path]
        name = "-".join(map(str, path))
        for end in ("", PERCENT):
            if f"{name}{end}" in self.values:
                return f"{name}{end}"
        above = self.name_of(path[:-1]) if len(path) > 1 else ""
        return above if above in self.values else name
