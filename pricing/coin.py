"""Coin types: published figures with their sources, and a workshop's own habits.

References:
    [1] Rule of mixtures for the density of an alloy: one over density is the sum
        of mass fraction over density.
    [2] Densities of the elements [g/cm³]: silver 10.49, nickel 8.908, zinc 7.14,
        manganese 7.21 (GNU Units 2.22 element data), copper 8.96.
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from types import MappingProxyType
from typing import Literal

from pricing.errors import InvalidInput
from pricing.price_book.bench import Basis

Metal = Literal["XAG", "base"]
METALS: tuple[Metal, ...] = ("XAG", "base")

ELEMENT_DENSITY_G_CM3 = MappingProxyType(
    {"Ag": 10.49, "Cu": 8.96, "Ni": 8.908, "Zn": 7.14, "Mn": 7.21}
)
"""Density of each element a coin alloy may hold [g/cm³]; see [2]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class HoleStep:
    """Up to this finger size punch this hole; the last step has no upper size.

    Attributes:
        up_to: largest finger size of the step [US number], None for all above.
        hole_mm: hole diameter [mm].
    """

    up_to: Decimal | None
    hole_mm: Decimal


@dataclass(frozen=True, slots=True, kw_only=True)
class Provenance:
    """Where the published figures of a coin come from.

    Attributes:
        source: the pages or laws read.
        looked_up: names of the figures read there.
        from_memory: names of the figures that still want checking.
        alloy_basis: "published", or what was assumed where the published
            composition is incomplete.
        notes: disagreements between sources and other remarks.
    """

    source: str = ""
    looked_up: tuple[str, ...] = ()
    from_memory: tuple[str, ...] = ()
    alloy_basis: str = ""
    notes: str = ""

    def mark(self, figure: str) -> str:
        """'looked up', 'from memory' or 'given' for one figure's name."""
        if figure in self.looked_up:
            return "looked up"
        return "from memory" if figure in self.from_memory else "given"


GIVEN = Provenance()


@dataclass(frozen=True, slots=True, kw_only=True)
class Coin:
    """A coin type, and how this workshop buys and cuts it.

    Attributes:
        key: unique key; empty for a coin given inline.
        name, country, years, face_value, face_currency, edge: what it is.
        metal: ``XAG`` for silver, ``base`` for a coin with no metal price.
        fineness_permille: parts of silver per thousand [‰].
        gross_mass_g: mass as struck [g].
        diameter_mm: outside diameter [mm].
        rim_thickness_mm: thickness at the rim [mm], for information only: the
            field is thinner, so mass is never taken from it.
        composition: the alloy in words, as published.
        alloy: element → share of the mass in parts per thousand [‰].
        nickel: whether the alloy holds nickel.
        published_fine_ozt: fine silver as published [ozt], or None.
        density_g_cm3: given density [g/cm³]; None takes it from the alloy.
        wear: share of mass lost in circulation; None takes the book's.
        holes: hole by finger size; empty takes the general rule.
        bore_allowance: sizes bored out [US sizes]; None goes by thickness.
        natural_size: size at which the coin edge needs neither wrapping nor
            stretching [US number]; None goes by diameter.
        basis, premium, extra, paid: how it is bought; None takes the book's.
        provenance: source of each figure.
    """

    key: str = ""
    name: str = ""
    country: str = ""
    years: str = ""
    face_value: str = ""
    face_currency: str = ""
    edge: str = ""
    metal: Metal = "XAG"
    fineness_permille: Decimal
    gross_mass_g: Decimal
    diameter_mm: Decimal
    rim_thickness_mm: Decimal | None = None
    composition: str = ""
    alloy: tuple[tuple[str, Decimal], ...] = ()
    nickel: Literal["none", "possible", "present"] = "none"
    published_fine_ozt: Decimal | None = None
    density_g_cm3: Decimal | None = None
    wear: Decimal | None = None
    holes: tuple[HoleStep, ...] = ()
    bore_allowance: Decimal | None = None
    natural_size: Decimal | None = None
    basis: Basis | None = None
    premium: Decimal | None = None
    extra: Decimal | None = None
    paid: Decimal | None = None
    provenance: Provenance = GIVEN

    @property
    def fineness(self) -> Decimal:
        """Silver as a fraction of the mass; 0 for base metal."""
        return self.fineness_permille / 1000

    @property
    def label(self) -> str:
        """The name a person would call it by."""
        return self.name or self.key or "a coin of your own"


def alloy_density_g_cm3(alloy: tuple[tuple[str, Decimal], ...]) -> float:
    """Density of an alloy by the rule of mixtures [1] [g/cm³].

    Args:
        alloy: (element, parts per thousand of the mass [‰]) pairs; the parts
            are taken relative to their sum.

    Raises:
        InvalidInput: no element, or one whose density is not known.

    >>> round(alloy_density_g_cm3((("Ag", Decimal(900)), ("Cu", Decimal(100)))), 3)
    10.314
    """
    unknown = [name for name, _ in alloy if name not in ELEMENT_DENSITY_G_CM3]
    if unknown or not alloy:
        raise InvalidInput(
            f"no density is known for {', '.join(unknown) or 'an empty alloy'}; "
            "give density_g_cm3",
            path=("density_g_cm3",),
        )
    total = float(sum(share for _, share in alloy))
    volume = sum(float(part) / total / ELEMENT_DENSITY_G_CM3[e] for e, part in alloy)
    return 1 / volume


def density_g_cm3(coin: Coin) -> float:
    """Density of a coin's metal [g/cm³]: given, from its alloy, or as Ag–Cu.

    Where only the fineness is known the remainder is taken as copper.

    Raises:
        InvalidInput: a base-metal coin with neither density nor alloy.
    """
    if coin.density_g_cm3 is not None:
        return float(coin.density_g_cm3)
    if coin.alloy:
        return alloy_density_g_cm3(coin.alloy)
    if coin.metal == "base":
        raise InvalidInput(
            "a coin with no metal price needs density_g_cm3 (cupronickel: 8.95)",
            path=("coin", "density_g_cm3"),
        )
    silver = coin.fineness_permille
    return alloy_density_g_cm3((("Ag", silver), ("Cu", 1000 - silver)))
