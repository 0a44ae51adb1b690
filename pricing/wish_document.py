"""A wish as a document: what was asked for, written down and read back whole."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import fields
from decimal import Decimal
from typing import Any

from pricing.errors import InvalidInput, Path
from pricing.money import ONE, ZERO, arithmetic
from pricing.price_book.fields import Fields, built
from pricing.price_book.findings import Findings, shown
from pricing.price_book.limits import AMOUNT, MOST_CHARACTERS, POSITIVE, Limits
from pricing.price_book.members import plain
from pricing.ring_size import RingSize, ring_size, us_size
from pricing.wish import INCLUDES, MOST_PIECES, OwnCoin, Wish

QUANTITY = Limits(least=ONE, most=Decimal(MOST_PIECES))
CONFIDENCE = Limits(over=ZERO, under=ONE)

_ANY_SIZE = us_size(Decimal(10))  # stands in for a size at fault
_PLAIN = Wish(size=_ANY_SIZE)


def read_wish(document: Mapping[str, object], *, path: Path = ()) -> Wish:
    """A wish from a table, as a JSON parser gives it.

    Args:
        document: the members of a wish; every figure exact, so text or a whole
            number, never a float.
        path: where the document stands in a larger one.

    Raises:
        InvalidInput: something is wrong; ``faults`` holds all of it, by path.

    >>> read_wish({"size": {"system": "us", "size": "10"}, "quantity": 2}).quantity
    2
    """
    findings = Findings()
    with arithmetic():
        wish = built(document, _read, path=path, into=findings)
    faults = findings.faults
    if faults:
        first = faults[0]
        raise InvalidInput(
            f"{first.dotted or 'the wish'}: {first.message}",
            path=first.path,
            faults=faults,
        )
    return wish


def wish_document(wish: Wish) -> dict[str, object]:
    """The document of ``wish``; what was not asked for is left out.

    Figures are plain decimal text. Quantity and confidence are always written,
    so that no later default can change what was asked for. Reading the document
    gives an equal wish.

    >>> wish_document(Wish(size=ring_size("uk", "T 1/2"), extras=("ring_box",)))
    {'size': {'system': 'uk', 'size': 'T 1/2'}, 'quantity': 1, \
'extras': ['ring_box'], 'confidence': '0.95'}
    """
    stated = {field.name: getattr(wish, field.name) for field in fields(Wish)}
    return {
        name: _written(value)
        for name, value in stated.items()
        if value is not None and value not in ((), frozenset())
    }


def _read(table: Fields) -> Wish:
    return Wish(
        size=table.table("size", _size),
        quantity=table.optional_whole("quantity", QUANTITY) or _PLAIN.quantity,
        channel=_optional_key(table, "channel"),
        policy=_optional_key(table, "policy"),
        extras=table.keys("extras"),
        own_coin=table.optional_table("own_coin", _own_coin),
        hole_mm=table.optional_decimal("hole_mm", POSITIVE),
        band_width_mm=table.optional_decimal("band_width_mm", POSITIVE),
        confidence=(
            table.optional_decimal("confidence", CONFIDENCE) or _PLAIN.confidence
        ),
        coin_paid=table.optional_decimal("coin_paid", AMOUNT),
        include=_include(table),
    )


def _size(table: Fields) -> RingSize:
    """The size as it was asked for; its length in millimetres follows from it."""
    system, size = table.text("system"), table.peek("size")
    if not isinstance(size, str) or len(size) > MOST_CHARACTERS:
        said = f"{shown(size)} is not a finger size"
        table.fault(f'{said}; write it as its system does, such as "10"', "size")
    elif table.sound("system"):
        try:
            return ring_size(system, size)
        except InvalidInput as error:
            table.fault(error.message, *error.path[1:])
    return _ANY_SIZE


def _optional_key(table: Fields, name: str) -> str | None:
    return None if table.peek(name) is None else table.key(name)


def _own_coin(table: Fields) -> OwnCoin:
    return OwnCoin(compensation=table.decimal("compensation", AMOUNT, default=ZERO))


def _include(table: Fields) -> frozenset[str]:
    names = table.keys("include")
    for place, name in enumerate(names):
        if name not in INCLUDES and table.sound("include", place):
            said = f"{shown(name)} is no further result"
            table.fault(f"{said}; use one of: {', '.join(INCLUDES)}", "include", place)
    return frozenset(names)


def _written(value: Any) -> object:
    match value:
        case Decimal():
            return plain(value)
        case RingSize():
            return {"system": value.system, "size": value.given}
        case OwnCoin():
            return {"compensation": plain(value.compensation)}
        case tuple() | frozenset():
            return sorted(value) if isinstance(value, frozenset) else list(value)
        case _:
            return value
