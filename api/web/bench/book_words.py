"""What a change of the price book is, in the words of its pages."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal, InvalidOperation
from typing import Any

from babel import Locale

from api.web import locales
from api.web.bench.book_fields import Ask, Group, Part
from api.web.bench.book_parts import PARTS
from pricing.price_book import Change

_ANY = "*"
_ONE = {
    "stages": "Stage",
    "channels": "Channel",
    "policies": "Policy",
    "consumables": "Consumable",
    "tools": "Tool",
    "extras": "Extra",
    "calibrations": "Calibration",
    "fees": "Fee",
    "quantity_breaks": "Quantity break from",
}
"""Lists of entries that changes are followed in, and what an entry is called."""
_SPECIAL = {
    "stages.*.scrap": "Chance that it is lost",
    "stages.*.redo": "Chance that it goes back",
    "stages.*.tools": "Tools it wears",
    "stages.*.minutes_per": "Minutes by the work to be done",
    "forming.punches_mm": "Punches owned",
    "policies.*.multipliers": "Multipliers",
    "policies.*.rounding": "Rounding",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Told:
    """A change, told: where, and what stood there; '' for nothing."""

    where: str
    before: str
    after: str


def told(
    changes: Sequence[Change], titles: Mapping[str, str], locale: Locale, code: str
) -> list[Told]:
    """Changes in words.

    Args:
        changes: as `pricing.price_book.diff` finds them.
        titles: what entries are called, by list and key with a point between.
        locale: how numbers are written.
        code: the book's currency, after them.
    """
    was = next((one.before for one in changes if one.path == "currency"), None)
    codes = was or code, code
    return [_told(each, titles, locale, codes) for each in changes]


def titles_of(*documents: Mapping[str, Any]) -> dict[str, str]:
    """What the entries of books are called, by list and key; the last book counts.

    They may be at fault: what is no list has no entries.

    >>> titles_of({"tools": 5, "stages": [{"key": "fold", "title": "Fold"}, 7]})
    {'stages.fold': 'Fold'}
    """
    return {
        f"{name}.{entry.get('key')}": str(entry["title"])
        for document in documents
        for name in _ONE
        if isinstance(document.get(name), list)
        for entry in document[name]
        if isinstance(entry, Mapping) and entry.get("title")
    }


def where(path: str, titles: Mapping[str, str]) -> str:
    """A place of the book as a person names it.

    >>> where("stages.fold.minutes", {"stages.fold": "Fold over the cone"})
    'Stage Fold over the cone: attended, each visit'
    >>> where("labour.rate_per_hour", {})
    'Labour: bench wage'
    """
    return _place(path, titles)[0]


def _told(
    change: Change, titles: Mapping[str, str], locale: Locale, codes: tuple[str, str]
) -> Told:
    place, ask = _place(change.path, titles)
    before, after = (
        "" if value is None else _written(value, ask, locale, code)
        for value, code in zip((change.before, change.after), codes, strict=True)
    )
    return Told(where=place, before=before, after=after)


def _place(path: str, titles: Mapping[str, str]) -> tuple[str, Ask | None]:
    members = path.split(".")
    pattern: list[str] = []
    heads: list[str] = []
    for i, member in enumerate(members):
        before = members[i - 1] if i else ""
        inside = before in _ONE and pattern[-1] != _ANY
        pattern.append(_ANY if inside else member)
        if inside:
            named = titles.get(f"{before}.{member}", member.replace("_", " "))
            heads.append(f"{_ONE[before]} {named}")
    if len(members) == 1 and path in _ONE:
        return f"Order of the {path}", None
    ask = _ASKS.get(".".join(pattern))
    label = ask.label if ask else _SPECIAL.get(".".join(pattern), "")
    if not heads:
        heads.append(_TITLES.get(members[0], "The book"))
    if pattern[-1] != _ANY and not label and len(members) > 1:
        label = members[-1].replace("_", " ")
    head = ", ".join(heads)
    return (f"{head}: {label[:1].lower()}{label[1:]}" if label else head), ask


def _written(value: str, ask: Ask | None, locale: Locale, code: str) -> str:
    """A figure as people write it, with its unit; other texts as they stand."""
    if ask is None or ask.kind not in {"amount", "percent", "whole"}:
        return value
    try:
        number = Decimal(value)
    except InvalidOperation:
        return value
    if ask.kind == "percent":
        return locales.share(number, locale)
    unit = ask.unit.replace("{money}", code)
    return f"{locales.number(number, locale)} {unit}".strip()


def _patterns(part: Part) -> Iterator[tuple[str, Ask]]:
    start = f"{part.members[0]}.{_ANY}." if part.listed else ""
    for group in part.groups:
        for name, ask in _of_group(group):
            yield start + name.replace("-", "."), ask


def _of_group(group: Group) -> Iterator[tuple[str, Ask]]:
    for ask in group.asks:
        yield ask.name, ask
    for ask in group.rows.asks if group.rows else ():
        name = group.rows.name if group.rows else ""
        yield (f"{name}-{_ANY}-{ask.name}" if ask.name else f"{name}-{_ANY}"), ask


_ASKS = {name: ask for part in PARTS.values() for name, ask in _patterns(part)}
_TITLES = {
    **{member: part.title for part in PARTS.values() for member in part.members},
    **dict.fromkeys(("title", "currency", "timezone"), "The book"),
}
