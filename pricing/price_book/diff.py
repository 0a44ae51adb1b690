"""What changed between two price books, told for a person."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, is_dataclass
from decimal import Decimal
from typing import Any

from pricing.price_book.bench import Chance, Redo
from pricing.price_book.book import PriceBook
from pricing.price_book.members import members, name_of, plain


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """One difference: where, and the figure or text before and after.

    Attributes:
        path: keys joined by points, such as ``stages.fold.minutes``.
        before, after: as a person reads it; None where there was or is nothing.
    """

    path: str
    before: str | None
    after: str | None


def diff(old: PriceBook, new: PriceBook) -> tuple[Change, ...]:
    """Every difference from ``old`` to ``new``, in document order.

    Entries are followed by their keys, so moving one is a change of the order of
    its list and not of its figures. Figures are compared by value: 32 is 32.00.
    The versions are not compared.
    """
    return tuple(_changes("", old, new))


def _changes(path: str, old: Any, new: Any) -> Iterator[Change]:
    if old == new:
        return
    if _are_parts(old, new):
        after = {member.name: member.value for member in members(new)}
        for member in members(old):
            yield from _changes(
                _join(path, member.name), member.value, after[member.name]
            )
    elif isinstance(old, Mapping) and isinstance(new, Mapping):
        yield from _entries(path, old, new)
    elif _is_list_of_parts(old) or _is_list_of_parts(new):
        before, after = _by_name(old), _by_name(new)
        yield from _entries(path, before, after)
        yield from _order(path, before, after)
    else:
        yield Change(path=path, before=_words(old), after=_words(new))


def _entries(
    path: str, old: Mapping[str, Any], new: Mapping[str, Any]
) -> Iterator[Change]:
    for name in dict.fromkeys((*old, *new)):
        yield from _changes(_join(path, name), old.get(name), new.get(name))


def _order(
    path: str, old: Mapping[str, Any], new: Mapping[str, Any]
) -> Iterator[Change]:
    before = [name for name in old if name in new]
    after = [name for name in new if name in old]
    if before != after:
        yield Change(path=path, before=", ".join(before), after=", ".join(after))


def _are_parts(old: Any, new: Any) -> bool:
    # A chance and a way back read best as one: "3 of 140", "0.02 to anneal".
    whole = isinstance(old, Chance | Redo)
    return is_dataclass(old) and type(old) is type(new) and not whole


def _is_list_of_parts(value: Any) -> bool:
    return isinstance(value, tuple) and any(is_dataclass(item) for item in value)


def _by_name(parts: tuple[Any, ...]) -> dict[str, Any]:
    return {name_of(part): part for part in parts}


def _join(path: str, name: str) -> str:
    return f"{path}.{name}" if path else name


def _words(value: Any) -> str | None:
    if value is None or isinstance(value, str):
        return value
    if isinstance(value, Redo):
        return f"{_words(value.chance)} to {value.to}"
    if isinstance(value, Chance):
        counted = f"{value.failed} of {value.tried}"
        return counted if value.rate is None else plain(value.rate)
    if isinstance(value, tuple):
        return ", ".join(str(_inner(item)) for item in value) or None
    if isinstance(value, Mapping) or is_dataclass(value):
        return _summary(value)
    return plain(value) if isinstance(value, Decimal) else str(value).lower()


def _summary(value: Any) -> str:
    if isinstance(value, Mapping):
        told = list(value.items())
    else:
        told = [(each.name, each.value) for each in members(value) if not each.default]
    return ", ".join(f"{name} {_inner(item)}" for name, item in told)


def _inner(value: Any) -> str | None:
    nested = isinstance(value, tuple | Mapping) or is_dataclass(value)
    return f"({_words(value)})" if nested else _words(value)
