"""An estimate as a sheet of text that a ring maker reads from top to bottom."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator
from decimal import Decimal
from itertools import groupby

import click

from pricing.cost_sheet import CostLine
from pricing.estimate import Estimate
from pricing.money import MINUTE_STEP, percent, shown, trimmed
from pricing.spot import FxRate, Spot

WIDTH = 79
GATHERED = {"consumable": "Materials", "tool": "Tool wear"}
RULES = {
    "target_margin": "the target margin",
    "markup": "the markup",
    "multipliers": "the multipliers",
    "min_hourly": "the least hourly earning",
    "min_price": "the least price",
    "rounding": "the first price on the grid",
    "given": "the price that was given",
}


def sheet(found: Estimate, *, every_line: bool = False) -> str:
    """The whole sheet; materials and tools in one line each unless ``every_line``."""
    lines = found.cost.lines if every_line else tuple(_gathered(found))
    blocks = (
        _head(found),
        _ring(found),
        _bench(found),
        _cost(found, lines),
        _price(found),
        _break_even(found),
        _own_coin(found),
        _risk(found),
        _cautions(found),
    )
    return "\n\n".join(filter(None, ("\n".join(block) for block in blocks)))


def _gathered(found: Estimate) -> Iterator[CostLine]:
    """The cost lines with materials in one and tool wear in one."""
    for kind, group in groupby(found.cost.lines, key=lambda line: line.kind):
        lines = list(group)
        if kind in GATHERED and len(lines) > 1:
            yield CostLine(
                kind=kind,
                label=f"{GATHERED[kind]} ({len(lines)})",
                amount=found.cost.by_kind[kind],
                how=", ".join(f"{each.label} {each.amount}" for each in lines),
            )
        else:
            yield from lines


def _title(text: str) -> str:
    return click.style(text, bold=True)


def _head(found: Estimate) -> Iterator[str]:
    size = found.wish.size
    marks = size.marks()
    sizes = ", ".join(
        f"{system.upper()} {marks[system]}"
        for system in ("us", "uk", "iso")
        if system != size.system and marks[system]
    )
    count = found.wish.quantity
    yield _title(f"{found.coin.label}, size {size.label} ({sizes})")
    yield (
        f"{count} {'piece' if count == 1 else 'pieces'} · "
        f"{found.channel.title or found.channel.key} · "
        f"{found.policy.title or found.policy.key} · "
        f"price book version {found.book_version}"
    )
    spot = found.spot
    if spot is not None:
        yield (
            f"Silver at {spot.price:f} {spot.currency} a troy ounce ({_origin(spot)})"
        )
    if spot is not None and spot.fx is not None:
        fx = spot.fx
        yield (
            f"  from {spot.original_price} {spot.original_currency} at "
            f"{fx.rate.normalize():f} {fx.quote} for one {fx.base} ({_origin(fx)})"
        )


def _origin(priced: Spot | FxRate) -> str:
    age = priced.age_hours
    return priced.source + ("" if age is None else f", {trimmed(age)} hours old")


def _ring(found: Estimate) -> Iterator[str]:
    plan = found.forming
    yield _title("Ring")
    yield (
        f"  Punch {trimmed(plan.hole.diameter_mm)} mm ({plan.hole.why}); "
        f"land {trimmed(plan.land_mm)} mm"
    )
    yield (
        f"  Coin {_grams(plan.mass_g)}: slug {_grams(plan.slug_g)}, "
        f"bored {_grams(plan.bored_g)}, finishing {_grams(plan.finish_loss_g)}, "
        f"ring {_grams(plan.finished_g)}"
    )
    way = "wrap down" if plan.wrap_sizes else "stretch"
    sizes = plan.wrap_sizes or plan.stretch_sizes
    yield (
        f"  Open to US {trimmed(plan.opening_size_us)}: {way} {trimmed(sizes)} sizes, "
        f"press {trimmed(plan.press_sizes)}, bore out {trimmed(plan.dome_sizes)}"
    )
    yield (
        f"  Outside {trimmed(plan.outside_diameter_mm)} mm; wall "
        f"{trimmed(plan.wall_coin_edge_mm)} mm at the coin's edge, "
        f"{trimmed(plan.wall_hole_edge_mm)} mm at the hole's"
    )


def _grams(mass: Decimal) -> str:
    return f"{shown(mass, MINUTE_STEP)} g"


def _bench(found: Estimate) -> Iterator[str]:
    yield _title("Bench")
    cost = found.cost
    yield f"  {cost.attended_minutes} min at the bench for a good ring"
    good = f"  {percent(found.spoilage.chance_good)} of starts come out good"
    if found.coins_to_start is not None:
        good += (
            f"; start {found.coins_to_start} for {found.wish.quantity} good at "
            f"{percent(found.wish.confidence)}"
        )
    yield good


def _cost(found: Estimate, lines: tuple[CostLine, ...]) -> Iterator[str]:
    yield _title(f"Cost of one good ring [{found.currency.code}]")
    label = max(len(line.label) for line in lines)
    amount = max(len(str(line.amount)) for line in lines)
    for line in lines:
        lead = f"  {line.label.ljust(label)}  {str(line.amount).rjust(amount)}  "
        yield from textwrap.wrap(
            line.how,
            WIDTH,
            initial_indent=lead,
            subsequent_indent=" " * len(lead),
        )
    total = str(found.cost.per_piece).rjust(amount)
    slope = trimmed(found.cost.slope_per_spot)
    moves = f"{slope} more for each 1 more on silver" if slope != "0" else ""
    yield f"  {'Cost'.ljust(label)}  {total}  {moves}".rstrip()


def _price(found: Estimate) -> Iterator[str]:
    sale, code = found.price.sale, found.currency.code
    yield _title(f"Price {sale.unit} {code}")
    yield f"  set by {RULES[found.price.bound_by]}"
    tax = found.channel.tax
    yield (
        f"  Order {sale.total}: net {sale.net}, tax {sale.tax} "
        f"({percent(tax.rate)} {'inside' if tax.inclusive else 'on top'})"
    )
    yield (
        f"  Shipping: charged {sale.shipping_charged} (net {sale.shipping_net}), "
        f"paid {sale.shipping_paid}"
    )
    for fee in sale.fees:
        yield f"  Fee {fee.label}: {fee.amount} = {fee.how}"
    yield f"  Margin {sale.margin} {code}{_rates(found)}"
    room = percent(found.price.discount_headroom)
    yield f"  Room for a discount of {room} before the floor"
    if found.on_paid is not None:
        rate = found.on_paid.margin_rate
        share = "" if rate is None else f" ({percent(rate)} of net)"
        yield (
            f"  Margin {found.on_paid.margin} {code}{share} with the coin at "
            f"{found.on_paid.paid} as paid"
        )


def _rates(found: Estimate) -> str:
    sale = found.price.sale
    words = ""
    if sale.margin_rate is not None:
        words += f", {percent(sale.margin_rate)} of net"
    if sale.markup is not None:
        words += f"; markup {percent(sale.markup)}"
    if sale.hourly is not None:
        words += f"; {sale.hourly} earned per bench hour"
    return words


def _break_even(found: Estimate) -> Iterator[str]:
    even = found.break_even
    spots = (
        (f"falls to its floor of {percent(found.policy.floor_margin)}", "floor"),
        ("is gone", "zero"),
    )
    told = []
    for words, name in spots:
        above = getattr(even, f"spot_at_{name}")
        below = getattr(even, f"spot_at_{name}_below")
        step = found.currency.step
        at = [shown(spot, step) for spot in (below, above) if spot is not None]
        if at:
            told.append(f"  The margin {words} with silver at {' or '.join(at)}")
    if told:
        yield _title("If silver moves")
        yield from told
    if found.validity is not None:
        hours, days = trimmed(found.validity.hours), found.validity.points
        yield f"  A quote may hold {hours} hours, as it moved over {days} days"


def _own_coin(found: Estimate) -> Iterator[str]:
    if found.own_coin is not None:
        yield _title("The customer's own coin")
        yield from _wrapped(found.own_coin.text, "  ")


def _risk(found: Estimate) -> Iterator[str]:
    risk = found.risk
    if risk is None:
        return
    yield _title(f"Risk of this order ({risk.orders} simulated, seed {risk.seed})")
    yield (
        f"  Cost {risk.low} in the best 5 %, {risk.median} in the middle, "
        f"{risk.high} in the worst 5 %"
    )
    yield f"  {percent(risk.chance_of_loss)} of such orders lose money"


def _cautions(found: Estimate) -> Iterator[str]:
    if not found.cautions:
        return
    yield _title("Mind")
    for caution in found.cautions:
        yield from _wrapped(caution.text, "  - ")


def _wrapped(text: str, lead: str) -> list[str]:
    return textwrap.wrap(
        text, WIDTH, initial_indent=lead, subsequent_indent=" " * len(lead)
    )
