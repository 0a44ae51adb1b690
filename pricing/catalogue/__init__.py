"""Published facts about coins and currencies, each figure with its source.

``coins.csv`` holds coin types, one a row. Every figure is listed by its short
name (see ``FIGURES``) under what was looked up or what is from memory; where
sources disagree the notes say so and the figure stays as published. The alloy
is in parts per thousand of the net mass; where a published composition is
incomplete the remainder is taken as copper and ``alloy_basis`` says so. The
hole rule and bore allowance of the 38.1 mm dollars are common practice, no
source.
"""

from __future__ import annotations

import csv
import re
from collections.abc import Callable, Mapping
from decimal import Decimal
from difflib import get_close_matches
from functools import cache
from importlib.resources import files
from types import MappingProxyType
from typing import Literal, TypeVar

from pricing.coin import (
    ELEMENT_DENSITY_G_CM3,
    METALS,
    Coin,
    HoleStep,
    Metal,
    Provenance,
)
from pricing.errors import InvalidInput, UnknownKey
from pricing.money import ZERO, exact_decimal

Nickel = Literal["none", "possible", "present"]

_HEADER = (
    "key name country years face_value face_currency metal fineness_permille "
    "gross_mass_g diameter_mm rim_thickness_mm edge composition alloy alloy_basis "
    "nickel published_fine_ozt holes bore_allowance source looked_up from_memory "
    "notes"
)
COLUMNS = tuple(_HEADER.split())
"""The columns of ``coins.csv``, in order."""

_FIGURES = "mass diameter thickness edge fineness composition fine_weight"
FIGURES = tuple(_FIGURES.split())
"""Short names of the figures that provenance marks."""

ALLOY_BASES = ("published", "remainder taken as copper")

_METALS: Mapping[str, Metal] = {metal: metal for metal in METALS}
_NICKEL: Mapping[str, Nickel] = {
    "none": "none",
    "possible": "possible",
    "present": "present",
}
_KEY = re.compile(r"[a-z]{2}_[a-z0-9_]+", re.ASCII)
_PERMILLE = Decimal(1000)

Value = TypeVar("Value")


@cache
def catalogue() -> Mapping[str, Coin]:
    """Every published coin type by its key, in file order; read once.

    >>> catalogue()["at_50s_1959_1973"].gross_mass_g
    Decimal('20.0')
    """
    text = files("pricing.catalogue").joinpath("coins.csv").read_text("utf-8")
    return read_coins(text)


def catalogue_coin(key: str) -> Coin:
    """The coin type of one key.

    Raises:
        UnknownKey: no such type; the message suggests the nearest keys.

    >>> catalogue_coin("us_dollar_1921_1935").fineness
    Decimal('0.9')
    """
    coins = catalogue()
    if key in coins:
        return coins[key]
    near = get_close_matches(key[:40], coins, n=3, cutoff=0.5)
    hint = f"; near it: {', '.join(near)}" if near else ""
    raise UnknownKey(
        f"no coin '{key[:40]}' in the catalogue{hint}. Use one of its "
        f"{len(coins)} keys, or give the coin's mass, fineness and diameter",
        path=("coin",),
    )


def read_coins(text: str) -> Mapping[str, Coin]:
    """Coin types from the text of a CSV file with exactly ``COLUMNS``; read-only.

    Raises:
        InvalidInput: a malformed row; the path is (line, column).
    """
    lines = _lines(text)
    if not lines or tuple(lines[0]) != COLUMNS:
        raise InvalidInput(
            f"the coin file needs exactly these columns: {', '.join(COLUMNS)}",
            path=(1,),
        )
    coins: dict[str, Coin] = {}
    for number, cells in enumerate(lines[1:], start=2):
        row = _Row(number, cells)
        coin = _coin(row)
        if coin.key in coins:
            raise row.fault("key", "is there twice; give each coin a key of its own")
        coins[coin.key] = coin
    return MappingProxyType(coins)


def _lines(text: str) -> list[list[str]]:
    reader = csv.reader(text.splitlines(), strict=True)
    try:
        return list(reader)
    except csv.Error as error:
        raise InvalidInput(
            f"coin file, line {reader.line_num}: {error}; check the quotes",
            path=(reader.line_num,),
        ) from None


class _Row:
    """One line of the file, read cell by cell; a bad cell is named by its column."""

    def __init__(self, line: int, cells: list[str]) -> None:
        self.line = line
        if len(cells) != len(COLUMNS):
            raise InvalidInput(
                f"coin file, line {line}: {len(cells)} cells where {len(COLUMNS)} "
                "are needed; check the quotes and commas",
                path=(line,),
            )
        self.cells = dict(zip(COLUMNS, cells, strict=True))

    def fault(self, column: str, problem: str) -> InvalidInput:
        given = self.cells[column]
        return InvalidInput(
            f"coin file, line {self.line}, {column} '{given}' {problem}",
            path=(self.line, column),
        )

    def text(self, column: str) -> str:
        if not self.cells[column].strip():
            raise self.fault(column, "must not be empty")
        return self.cells[column]

    def number(self, column: str) -> Decimal:
        return exact_decimal(self.cells[column], path=(self.line, column))

    def positive(self, column: str) -> Decimal:
        value = self.number(column)
        if value <= ZERO:
            raise self.fault(column, "must be above 0")
        return value

    def optional(self, column: str) -> Decimal | None:
        return self.positive(column) if self.cells[column] else None

    def one_of(self, column: str, allowed: Mapping[str, Value]) -> Value:
        if self.cells[column] not in allowed:
            raise self.fault(column, f"must be one of {', '.join(allowed)}")
        return allowed[self.cells[column]]

    def several(self, column: str, read: Callable[[str], Value]) -> tuple[Value, ...]:
        """The parts of a cell, which semicolons separate."""
        cell = self.cells[column]
        try:
            return tuple(read(part) for part in cell.split(";")) if cell else ()
        except (ValueError, KeyError):
            raise self.fault(column, "is malformed") from None


def _coin(row: _Row) -> Coin:
    return Coin(
        key=_key(row),
        name=row.text("name"),
        country=row.text("country"),
        years=row.text("years"),
        face_value=row.cells["face_value"],
        face_currency=row.cells["face_currency"],
        edge=row.text("edge"),
        metal=row.one_of("metal", _METALS),
        fineness_permille=_fineness(row),
        gross_mass_g=row.positive("gross_mass_g"),
        diameter_mm=row.positive("diameter_mm"),
        rim_thickness_mm=row.optional("rim_thickness_mm"),
        composition=row.text("composition"),
        alloy=_alloy(row),
        nickel=_nickel(row),
        published_fine_ozt=row.optional("published_fine_ozt"),
        holes=_holes(row),
        bore_allowance=row.optional("bore_allowance"),
        provenance=_provenance(row),
    )


def _key(row: _Row) -> str:
    key = row.cells["key"]
    if not _KEY.fullmatch(key):
        raise row.fault("key", "must look like at_50s_1959_1973")
    return key


def _fineness(row: _Row) -> Decimal:
    """0 for base metal, else above 0 and at most 1000 [‰]."""
    value = row.number("fineness_permille")
    silver = row.cells["metal"] == "XAG"
    if silver != (ZERO < value <= _PERMILLE) or (not silver and value != ZERO):
        raise row.fault(
            "fineness_permille", "must be 1 to 1000 for silver and 0 for base metal"
        )
    return value


def _element(part: str) -> tuple[str, Decimal]:
    name, share = part.split(" ")
    if name not in ELEMENT_DENSITY_G_CM3:
        raise KeyError(name)
    return name, exact_decimal(share)


def _alloy(row: _Row) -> tuple[tuple[str, Decimal], ...]:
    """Elements that make up the whole, with as much silver as the fineness says."""
    alloy = row.several("alloy", _element)
    shares = dict(alloy)
    if len(shares) != len(alloy) or sum(shares.values()) != _PERMILLE:
        raise row.fault("alloy", "must name each element once and add up to 1000")
    if shares.get("Ag", ZERO) != row.number("fineness_permille"):
        raise row.fault("alloy", "must hold as much Ag as fineness_permille says")
    return alloy


def _nickel(row: _Row) -> Nickel:
    nickel = row.one_of("nickel", _NICKEL)
    if nickel != "present" and "Ni" in dict(row.several("alloy", _element)):
        raise row.fault("nickel", "must be present, as the alloy holds Ni")
    return nickel


def _hole_step(part: str) -> HoleStep:
    up_to, hole_mm = part.split(":")
    return HoleStep(
        up_to=exact_decimal(up_to) if up_to else None, hole_mm=exact_decimal(hole_mm)
    )


def _holes(row: _Row) -> tuple[HoleStep, ...]:
    """Steps of rising size, the last of them open, each hole inside the coin."""
    holes = row.several("holes", _hole_step)
    limits = [step.up_to for step in holes[:-1]]
    rising = [limit for limit in limits if limit is not None]
    if holes and (
        holes[-1].up_to is not None
        or len(rising) != len(limits)
        or rising != sorted(set(rising))
    ):
        raise row.fault("holes", "must rise and end open, such as 9.5:19.05;:15.875")
    if any(not ZERO < step.hole_mm < row.number("diameter_mm") for step in holes):
        raise row.fault("holes", "must be above 0 mm and smaller than the coin")
    return holes


def _figure(part: str) -> str:
    if part not in FIGURES:
        raise KeyError(part)
    return part


def _provenance(row: _Row) -> Provenance:
    looked_up = row.several("looked_up", _figure)
    from_memory = row.several("from_memory", _figure)
    if set(looked_up) & set(from_memory):
        raise row.fault("from_memory", "repeats a figure that was looked up")
    needed = {"mass", "diameter"}
    if row.cells["metal"] == "XAG":
        needed |= {"fineness"}
    if missing := needed - {*looked_up, *from_memory}:
        raise row.fault("looked_up", f"leaves unmarked: {', '.join(sorted(missing))}")
    return Provenance(
        source=row.text("source"),
        looked_up=looked_up,
        from_memory=from_memory,
        alloy_basis=row.one_of("alloy_basis", {b: b for b in ALLOY_BASES}),
        notes=row.cells["notes"],
    )
