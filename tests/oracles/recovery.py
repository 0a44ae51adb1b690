"""What scrap earns on average, put together from the chain."""

from __future__ import annotations

from decimal import Decimal

from pricing.recovery import scrapped_mass_g


def expected_recovery(chain, *, mass_g, removed_g, removal_credit, scrap_credit_per_g):
    """Σ credit_j·reached_j and the scrapped mass at its price, for one start."""
    earned = sum(
        (
            credit * stage.reached
            for stage, credit in zip(chain.stages, removal_credit, strict=True)
        ),
        Decimal(0),
    )
    scrapped = scrapped_mass_g(chain, mass_g=mass_g, removed_g=removed_g)
    return earned + scrap_credit_per_g * scrapped
