"""The risk of one order: its attempts simulated with the cost sheet's own figures."""

from __future__ import annotations

from dataclasses import replace

from pricing import money
from pricing.cost_sheet import SpotFreeSheet
from pricing.forming import FormingPlan
from pricing.price import SaleTerms
from pricing.recovery import removed_by_stage
from pricing.risk import AttemptCosts, Risk, simulate
from pricing.route import visit_cost
from pricing.sale import Sale
from pricing.spot import Spot

_FOR_EACH_GOOD = ("extra", "packaging", "after_sale")


def order_risk(
    sheet: SpotFreeSheet,
    plan: FormingPlan,
    sale: Sale,
    *,
    terms: SaleTerms,
    spot: Spot | None,
) -> Risk:
    """Simulate the order until its pieces are good; same inputs, same numbers.

    Args:
        sheet: costs of the ring [currency].
        plan: the masses removed [g].
        sale: the price and what is left of it [currency].
        terms: the quantity ordered [count].
        spot: price of the metal scrap is sold at [currency/ozt], or None.
    """
    found = simulate(
        sheet.ingredients.spoilage,
        attempt_costs(sheet, plan, spot=spot),
        good=terms.quantity,
        proceeds=sale.margin + sale.cost,
    )
    return replace(
        found,
        mean=money.amount(found.mean, terms.currency),
        low=money.amount(found.low, terms.currency),
        median=money.amount(found.median, terms.currency),
        high=money.amount(found.high, terms.currency),
    )


def attempt_costs(
    sheet: SpotFreeSheet, plan: FormingPlan, *, spot: Spot | None
) -> AttemptCosts:
    """What one attempt costs and gives back, stage by stage [currency], masses [g]."""
    parts = sheet.ingredients
    price = spot.price if spot else money.ZERO
    credit_per_g = {
        item.kind: -item.credit.at(price) / item.mass_g for item in parts.recovered
    }
    removed = removed_by_stage(plan, parts.work)
    kinds = ("slug" if stage.removes == "slug" else "filings" for stage in parts.work)
    return AttemptCosts(
        start=parts.coin.line.at(price) if parts.coin else money.ZERO,
        visits=tuple(visit_cost(parts.book, stage) for stage in parts.work),
        removed_g=removed,
        removal_credit=tuple(
            mass * credit_per_g.get(kind, money.ZERO)
            for mass, kind in zip(removed, kinds, strict=True)
        ),
        mass_g=plan.mass_g,
        scrap_credit_per_g=credit_per_g.get("scrap", money.ZERO),
        per_good=sum(
            (x.line.at(price) for x in sheet.lines if x.kind in _FOR_EACH_GOOD),
            money.ZERO,
        ),
        compensation=None if parts.coin else parts.compensation,
    )
