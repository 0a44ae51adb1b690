"""A coin as a document: read whole, or refused with every fault; and written back."""

from __future__ import annotations

import unicodedata
from collections.abc import Mapping
from dataclasses import fields, replace
from decimal import Decimal
from types import MappingProxyType
from typing import Any, Literal

from pricing.coin import (
    ELEMENT_DENSITY_G_CM3,
    GIVEN,
    METALS,
    Coin,
    HoleStep,
    Metal,
    Provenance,
)
from pricing.errors import InvalidInput, Path
from pricing.money import ZERO, arithmetic
from pricing.price_book.bench import BASES, Basis
from pricing.price_book.fields import Fields, built, figures_by
from pricing.price_book.findings import Findings, shown
from pricing.price_book.limits import AMOUNT, LENGTH_MM, PART, PREMIUM, SIZES, Limits
from pricing.price_book.members import plain

MASS_G = Limits(least=Decimal("0.1"), most=Decimal(1000))
DIAMETER_MM = Limits(least=Decimal(8), most=Decimal(100))
FINENESS_PERMILLE = Limits(least=ZERO, most=Decimal(1000))
DENSITY_G_CM3 = Limits(least=Decimal(1), most=Decimal(25))
THICKNESS_MM = Limits(over=ZERO, most=Decimal(20))
ALLOY_PERMILLE = Limits(over=ZERO, most=Decimal(1000))
NATURAL_SIZE = Limits(least=ZERO, most=Decimal(80))
FINE_OZT = Limits(least=ZERO, most=Decimal(40))
MOST_REMARK = 1000
"""Longest text about sources [characters]."""

Nickel = Literal["none", "possible", "present"]
_NICKEL: tuple[Nickel, ...] = ("none", "possible", "present")
_NO_ALLOY: Mapping[str, Decimal] = MappingProxyType({})
_BY_ELEMENT = figures_by(tuple(ELEMENT_DENSITY_G_CM3), ALLOY_PERMILLE)
_UNPRINTABLE = frozenset({"Cc", "Cf", "Cs", "Zl", "Zp"})


def read_coin(document: Mapping[str, object], *, path: Path = ()) -> Coin:
    """A coin from a table, as a JSON parser gives it.

    Args:
        document: the members of a coin; every figure exact, so text or a whole
            number, never a float.
        path: where the document stands in a larger one.

    Raises:
        InvalidInput: something is wrong; ``faults`` holds all of it, by path.
    """
    findings = Findings()
    with arithmetic():
        coin = built(document, _read, path=path, into=findings)
    faults = findings.faults
    if faults:
        first = faults[0]
        raise InvalidInput(
            f"{first.dotted or 'the coin'}: {first.message}",
            path=first.path,
            faults=faults,
        )
    return coin


def coin_document(coin: Coin) -> dict[str, object]:
    """The document of ``coin``; what is at its default is left out.

    Figures are plain decimal text. Reading it gives an equal coin, the elements
    of the alloy in the order of ``ELEMENT_DENSITY_G_CM3``.

    >>> coin_document(Coin(fineness_permille=Decimal(900), gross_mass_g=Decimal(20),
    ...                    diameter_mm=Decimal("34.00")))
    {'fineness_permille': '900', 'gross_mass_g': '20', 'diameter_mm': '34.00'}
    """
    members: dict[str, object] = {}
    for field in fields(Coin):
        value = getattr(coin, field.name)
        if field.name == "provenance":
            members |= _remarks(value)
        elif value != field.default:
            members[field.name] = _written(value)
    return members


def _read(table: Fields) -> Coin:
    coin = _with_habits(_published(table), table)
    _check_holes(coin, table)
    if coin.metal == "base":
        _check_base(coin, table)
    return coin


def _published(table: Fields) -> Coin:
    """The coin as struck."""
    metal: Metal = table.choice("metal", METALS, default="XAG")
    least_fine = ZERO if metal == "base" else None
    return Coin(
        key="" if table.peek("key") is None else table.key("key"),
        name=table.text("name", default=""),
        country=table.text("country", default=""),
        years=table.text("years", default=""),
        face_value=table.text("face_value", default=""),
        face_currency=table.text("face_currency", default=""),
        edge=table.text("edge", default=""),
        metal=metal,
        fineness_permille=table.decimal(
            "fineness_permille", FINENESS_PERMILLE, default=least_fine
        ),
        gross_mass_g=table.decimal("gross_mass_g", MASS_G),
        diameter_mm=table.decimal("diameter_mm", DIAMETER_MM),
        rim_thickness_mm=table.optional_decimal("rim_thickness_mm", THICKNESS_MM),
        composition=table.text("composition", default=""),
        alloy=tuple(table.table("alloy", _BY_ELEMENT, default=_NO_ALLOY).items()),
        nickel=table.choice("nickel", _NICKEL, default="none"),
        published_fine_ozt=table.optional_decimal("published_fine_ozt", FINE_OZT),
        provenance=_provenance(table),
    )


def _with_habits(coin: Coin, table: Fields) -> Coin:
    """The coin with how this workshop buys and cuts it."""
    default: Basis = "paid" if coin.metal == "base" else "melt"
    basis: Basis = table.choice("basis", BASES, default=default)
    stated = table.given("basis") or coin.metal == "base"
    return replace(
        coin,
        density_g_cm3=table.optional_decimal("density_g_cm3", DENSITY_G_CM3),
        wear=table.optional_decimal("wear", PART),
        holes=table.tables("holes", _hole_step),
        bore_allowance=table.optional_decimal("bore_allowance", SIZES),
        natural_size=table.optional_decimal("natural_size", NATURAL_SIZE),
        basis=basis if stated else None,
        premium=table.optional_decimal("premium", PREMIUM),
        extra=table.optional_decimal("extra", AMOUNT),
        paid=table.optional_decimal("paid", AMOUNT),
    )


def _hole_step(table: Fields) -> HoleStep:
    return HoleStep(
        up_to=table.optional_decimal("up_to", NATURAL_SIZE),
        hole_mm=table.decimal("hole_mm", LENGTH_MM),
    )


def _provenance(table: Fields) -> Provenance:
    return Provenance(
        source=_remark(table, "source"),
        looked_up=table.keys("looked_up"),
        from_memory=table.keys("from_memory"),
        alloy_basis=table.text("alloy_basis", default=""),
        notes=_remark(table, "notes"),
    )


def _remark(table: Fields, name: str) -> str:
    """A text about sources, which may be longer than other texts."""
    value = table.peek(name)
    if value is None:
        return ""
    if not isinstance(value, str):
        table.fault(f"{shown(value)} is not text; write it in quotes", name)
    elif len(value) > MOST_REMARK:
        said = f"{len(value)} characters are too many; use at most {MOST_REMARK}"
        table.fault(said, name)
    elif any(unicodedata.category(sign) in _UNPRINTABLE for sign in value):
        table.fault(f"{shown(value)} holds signs that do not print", name)
    else:
        return value
    return ""


def _check_holes(coin: Coin, table: Fields) -> None:
    last = len(coin.holes) - 1
    reached = Decimal(-1)
    for i, step in enumerate(coin.holes):
        if step.hole_mm >= coin.diameter_mm and table.sound("diameter_mm"):
            said = f"a hole of {step.hole_mm} mm leaves nothing of this coin"
            table.fault(f"{said}; keep it under diameter_mm", "holes", i, "hole_mm")
        if step.up_to is None:
            if i < last:
                said = "only the last step may be without an upper size"
                table.fault(f"{said}; put the steps in rising order", "holes", i)
        elif i == last:
            said = "the last step holds for every size above the others"
            table.fault(f"{said}; leave its up_to out", "holes", i, "up_to")
        elif step.up_to <= reached:
            said = f"size {step.up_to} does not come after {reached}"
            table.fault(f"{said}; put the steps in rising order", "holes", i, "up_to")
        else:
            reached = step.up_to


def _check_base(coin: Coin, table: Fields) -> None:
    """What a coin without a metal price has to say about itself."""
    if coin.fineness_permille > ZERO:
        said = "a coin of base metal has no fineness"
        table.fault(f'{said}; leave it out, or say metal "XAG"', "fineness_permille")
    if coin.density_g_cm3 is None and not coin.alloy and table.sound("density_g_cm3"):
        said = "a coin of base metal needs its density, or its alloy"
        table.fault(f"{said}; cupronickel has 8.95", "density_g_cm3")
    if coin.paid is None and table.sound("paid"):
        said = "a coin of base metal has no metal price"
        table.fault(f"{said}; say what one costs", "paid")
    if coin.basis == "melt":
        said = "a coin of base metal has no melt price"
        table.fault(f'{said}; use basis "paid"', "basis")


def _remarks(provenance: Provenance) -> dict[str, object]:
    stated = {field.name: getattr(provenance, field.name) for field in fields(GIVEN)}
    return {name: _written(value) for name, value in stated.items() if value}


def _written(value: Any) -> object:
    if isinstance(value, Decimal):
        return plain(value)
    if isinstance(value, HoleStep):
        stated = {"up_to": value.up_to, "hole_mm": value.hole_mm}
        return {n: plain(size) for n, size in stated.items() if size is not None}
    if isinstance(value, tuple) and value and isinstance(value[0], tuple):
        return {element: plain(share) for element, share in value}
    return [_written(one) for one in value] if isinstance(value, tuple) else value
