"""Metal that comes back: slugs, filings and scrapped rings, sold at a share of melt.

A stage's removal happens on the first visit to it and is complete when a piece is
scrapped there. What a scrapped piece weighs is therefore the coin's mass less all
the removals it has been through.

References:
    [1] With reached_j the chance that a start reaches the stage of removal j and
        P_j the chance to end good from there (absorbing Markov chain), the mass
        expected in scrap is m·(1 − P) − Σ removed_j·reached_j·(1 − P_j): once
        reached, the piece ends scrapped with chance 1 − P_j, and then without
        the removed metal.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from decimal import Decimal

from pricing import money
from pricing.coin import Coin
from pricing.coin_cost import fineness_words
from pricing.forming import FormingPlan
from pricing.metal_line import MetalLine
from pricing.price_book import Recovery
from pricing.route import StageWork
from pricing.spoilage import Spoilage
from pricing.spot import Spot
from pricing.units import troy_ounces

LABELS = {
    "slug": "Slugs sold",
    "filings": "Filings sold",
    "scrap": "Scrapped rings sold",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Recovered:
    """One kind of scrap from one start.

    Attributes:
        kind: ``slug``, ``filings`` or ``scrap``.
        mass_g: expected mass per start [g].
        payout: share of melt value paid.
        credit: its worth per start against spot, as a negative cost [currency].
        fineness: words for the explanation.
    """

    kind: str
    mass_g: Decimal
    payout: Decimal
    credit: MetalLine
    fineness: str

    def how(self, spot: Spot) -> str:
        """The arithmetic in one line, for one start, at a spot [currency/ozt]."""
        mass = money.shown(self.mass_g, money.MASS_STEP_G)
        return (
            f"{mass} g × {self.fineness} ÷ 31.1035 × {spot.price} × "
            f"{money.percent(self.payout)} paid"
        )


def removed_by_stage(
    plan: FormingPlan, work: tuple[StageWork, ...]
) -> tuple[Decimal, ...]:
    """Mass each stage removes on its first visit [g], in route order."""
    removed = plan.removed_g
    return tuple(removed.get(stage.removes, money.ZERO) for stage in work)


def scrapped_mass_g(
    spoilage: Spoilage, *, mass_g: Decimal, removed_g: Sequence[Decimal]
) -> Decimal:
    """Expected mass in scrap per start [g]; see [1].

    Args:
        spoilage: what becomes of a start.
        mass_g: mass of the coin before the first stage [g].
        removed_g: what each stage removes on its first visit, in route order [g].

    Raises:
        ValueError: not one removal a stage.
    """
    missing = (
        removed * stage.reached * (1 - stage.chance_good_from)
        for stage, removed in zip(spoilage.stages, removed_g, strict=True)
    )
    scrapped = mass_g * (1 - spoilage.chance_good) - sum(missing, money.ZERO)
    # Chances are rounded at 1e-9, which can leave a trace below nothing.
    return max(scrapped, money.ZERO)


def expected_masses_g(
    plan: FormingPlan, work: tuple[StageWork, ...], spoilage: Spoilage
) -> dict[str, Decimal]:
    """Expected slug, filings and scrap per start [g]."""
    removed = removed_by_stage(plan, work)
    masses = {
        "slug": money.ZERO,
        "filings": money.ZERO,
        "scrap": scrapped_mass_g(spoilage, mass_g=plan.mass_g, removed_g=removed),
    }
    for stage, chance, mass in zip(work, spoilage.stages, removed, strict=True):
        if stage.removes:
            kind = "slug" if stage.removes == "slug" else "filings"
            masses[kind] += mass * chance.reached
    return masses


def recovered(
    coin: Coin, terms: Recovery, masses_g: dict[str, Decimal]
) -> Iterator[Recovered]:
    """What each kind of scrap from one start is worth against spot.

    Args:
        coin: its fineness; a coin with no metal price recovers nothing.
        terms: payout for each kind, as a share of melt value.
        masses_g: expected mass of each kind per start [g].
    """
    if coin.metal == "base":
        return
    payouts = {"slug": terms.slug, "filings": terms.filings, "scrap": terms.scrap}
    for kind, mass in masses_g.items():
        if not mass or not payouts[kind]:
            continue
        fine = troy_ounces(mass * coin.fineness)
        yield Recovered(
            kind=kind,
            mass_g=mass,
            payout=payouts[kind],
            credit=MetalLine.proportional(-fine * payouts[kind]),
            fineness=fineness_words(coin),
        )
