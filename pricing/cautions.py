"""What to watch when a coin becomes a ring: the law, the metal, the skin, the bench.

Short plain reminders, not legal or medical advice: local codes, the maker's
instructions and licensed practice come first. The texts are data, in
``catalogue/cautions.csv``; each names its source and says whether that was read
or is, in part at least, from memory and wants checking.
"""

from __future__ import annotations

import csv
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from decimal import Decimal
from functools import cache
from importlib.resources import files
from types import MappingProxyType
from typing import Literal

from pricing.coin import Coin
from pricing.money import ONE, ZERO, down

Audience = Literal["bench", "buyer"]

STERLING_PERMILLE = Decimal(925)
"""Least fineness that US trade calls sterling [‰] (16 CFR 23.5)."""
US_COIN_SILVER_PERMILLE = Decimal(900)
"""Least fineness that US trade calls coin silver [‰] (16 CFR 23.5)."""
UK_LEAST_PERMILLE = Decimal(800)
"""Least fineness of silver that the UK hallmarks [‰] (Hallmarking Act 1973)."""
UK_EXEMPT_G = Decimal("7.78")
"""Silver up to this mass needs no hallmark in the UK [g] (Hallmarking Act 1973)."""

_AUDIENCES: Mapping[str, Audience] = {"bench": "bench", "buyer": "buyer"}
_STANDINGS = {"looked up": True, "from memory": False}
LAW = "Local law decides; this is not legal advice."
"""What every caution about the law ends with."""
_COUNTRIES = ("US", "CA", "GB", "AU", "JP", "IN")
_US_SMALL_FACES = ("0.01", "0.05")
_FIGURES = ("mass", "fineness", "diameter")


@dataclass(frozen=True, slots=True, kw_only=True)
class Caution:
    """One thing to watch.

    Attributes:
        code: short stable name.
        text: what to watch and what to do, in plain words.
        audience: the ``bench``, or the ``buyer``, who is told no cost.
        source: where the fact comes from.
        looked_up: whether all of it was read there; else some is from memory.
    """

    code: str
    text: str
    audience: Audience
    source: str
    looked_up: bool


@cache
def caution_texts() -> Mapping[str, Caution]:
    """Every caution by its code, in file order, with its blanks still open.

    >>> caution_texts()["ptfe"].audience
    'bench'
    """
    text = files("pricing.catalogue").joinpath("cautions.csv").read_text("utf-8")
    rows = csv.DictReader(text.splitlines(), strict=True)
    return MappingProxyType(
        {
            row["code"]: Caution(
                code=row["code"],
                text=row["text"],
                audience=_AUDIENCES[row["audience"]],
                source=row["source"],
                looked_up=_STANDINGS[row["standing"]],
            )
            for row in rows
        }
    )


def cautions_for(
    *,
    coin: Coin,
    finished_g: Decimal,
    consumables: Iterable[str],
    own_coin: bool,
    unlisted: bool = False,
) -> tuple[Caution, ...]:
    """What to watch with this coin, in a fixed order: bench, law, metal, fit.

    Args:
        coin: the coin type.
        finished_g: mass of the finished ring [g].
        consumables: keys of the consumables that the route uses.
        unlisted: whether the book lists no consumable at all; PTFE tape is then
            taken to be used, as is common practice (no source).
        own_coin: whether the customer brings the coin.
    """
    used = " ".join(consumables).casefold()
    found = (
        *_bench(coin, used, unlisted=unlisted),
        *_altering(coin),
        *_describing(coin, finished_g),
        *_nickel(coin),
        _caution("wide_band"),
    )
    if own_coin:
        return (*found, _caution("own_coin"), _caution("own_coin_risk"))
    return found


def _caution(code: str, **blanks: object) -> Caution:
    caution = caution_texts()[code]
    return replace(caution, text=caution.text.format(law=LAW, **blanks))


def _bench(coin: Coin, used: str, *, unlisted: bool) -> Iterator[Caution]:
    yield _caution("heat_and_press")
    yield _caution("model_estimate")
    mark = coin.provenance.mark
    unsure = [name for name in _FIGURES if mark(name) == "from memory"]
    if unsure:
        yield _caution("figure_from_memory", figures=", ".join(unsure))
    if "ptfe" in used or unlisted:
        yield _caution("ptfe")
    if any(word in used for word in ("liver", "sulphur", "sulfur")):
        yield _caution("liver_of_sulphur")
    elements = dict(coin.alloy)
    if "Mn" in elements:
        yield _caution("manganese_alloy")
    if "Zn" in elements:
        yield _caution("zinc_alloy")


def _altering(coin: Coin) -> Iterator[Caution]:
    yield _caution("coin_law")
    if coin.country in _COUNTRIES:
        yield _caution(f"coin_law_{coin.country.lower()}")
    if coin.country == "US" and coin.face_value in _US_SMALL_FACES:
        yield _caution("coin_law_us_small")


def _describing(coin: Coin, finished_g: Decimal) -> Iterator[Caution]:
    """How the metal may be called; the fineness is cut, never rounded up."""
    parts = down(coin.fineness_permille, ONE)
    if coin.metal == "base" or parts <= ZERO:
        yield _caution("wording_none")
        yield _caution("metal_none")
        return
    yield _caution(_wording(coin.fineness_permille), parts=parts)
    yield _caution("metal_silver", parts=parts)
    if coin.fineness_permille < UK_LEAST_PERMILLE:
        yield _caution("hallmark_uk_not_possible")
    elif finished_g > UK_EXEMPT_G:
        yield _caution("hallmark_uk_needed")


def _wording(fineness_permille: Decimal) -> str:
    if fineness_permille >= STERLING_PERMILLE:
        return "wording_sterling"
    if fineness_permille >= US_COIN_SILVER_PERMILLE:
        return "wording_coin_silver"
    return "wording_fineness"


def _nickel(coin: Coin) -> Iterator[Caution]:
    """Base metal of unknown alloy may well be cupronickel, so it counts as maybe."""
    unknown = coin.metal == "base" and not coin.alloy
    if coin.nickel == "present" or "Ni" in dict(coin.alloy):
        holds = "holds"
    elif coin.nickel == "possible" or unknown:
        holds = "may hold"
    else:
        return
    yield _caution("nickel_limit", holds=holds)
    yield _caution("nickel", holds=holds)
