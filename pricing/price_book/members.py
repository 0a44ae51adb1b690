"""What the parts of a price book hold, under the names a document gives them."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import MISSING, Field, dataclass, fields
from decimal import Decimal
from typing import Any

from pricing.money import ZERO, Currency
from pricing.price_book.bench import Calibration
from pricing.price_book.book import PriceBook
from pricing.price_book.selling import Fee, Policy, QuantityBreak

_WIRE_NAMES = {"from_quantity": "from"}
_NAMED_BY = {Calibration: "coin", Fee: "label", QuantityBreak: "from_quantity"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Member:
    """One member of a part: its name in a document, its value, and if it says anything.

    Attributes:
        default: whether the value is what leaving the member out would mean.
    """

    name: str
    value: Any
    default: bool


def members(part: Any) -> Iterator[Member]:
    """The members of a book or of one of its parts, in document order."""
    for field in fields(part):
        if isinstance(part, PriceBook) and field.name == "version":
            continue  # given by the storage, not by the document
        value = getattr(part, field.name)
        yield Member(
            name=_WIRE_NAMES.get(field.name, field.name),
            value=_stated(part, field.name, value),
            default=value == _default(field),
        )


def name_of(part: Any) -> str:
    """What tells a part from the others of its list: its key, label or quantity."""
    return str(getattr(part, _NAMED_BY.get(type(part), "key")))


def plain(value: Decimal) -> str:
    """``value`` [any unit] as plain decimal text."""
    return format(value or ZERO, "f")  # a zero is "0", whatever its digits


def _stated(part: Any, name: str, value: Any) -> Any:
    if isinstance(value, Currency):
        return value.code
    if isinstance(part, Policy) and name == "prudence" and value is None:
        return "mean"
    return value


def _default(field: Field[Any]) -> Any:
    if field.default_factory is not MISSING:
        return field.default_factory()
    return field.default
