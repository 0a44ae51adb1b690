"""Bands drawn from a seed, and the long way to their price and to the decision.

The long way prepares every size as an estimate does, prices each of them, and
takes the worst; decisions are made with fractions, in the order they are told in.
"""

from dataclasses import dataclass, replace
from decimal import Decimal
from fractions import Fraction

from pricing import price_book as pb
from pricing.coin import Coin
from pricing.errors import NotMakeable
from pricing.estimate import Prepared, prepare
from pricing.reprice import CompiledBand, compile_band
from pricing.ring_size import us_size
from pricing.sale import Sale, sale_at
from pricing.spot import Spot
from pricing.wish import Wish
from tests.oracles.random_rings import Draw

QUARTER = Decimal("0.25")


@dataclass(frozen=True)
class Drawn:
    """A band, its sizes the long way, a spot and the price it has now."""

    band: CompiledBand
    sizes: dict[Decimal, Prepared]
    spot: Spot
    current: Decimal

    @property
    def policy(self) -> pb.Policy:
        return self.band.policy

    def asked(self) -> dict[Decimal, Decimal]:
        """The price each size asks alone."""
        return {us: x.price_at(self.spot).sale.unit for us, x in self.sizes.items()}

    def costs(self) -> dict[Decimal, tuple[Decimal, Decimal]]:
        """Presented and unrounded cost of each size."""
        return {
            us: (x.cost_at(self.spot).per_piece, x.sheet.exact.at(self.spot.price))
            for us, x in self.sizes.items()
        }

    def dearest(self) -> Decimal:
        """The size that asks the most; then the costliest, then the smallest."""
        asked, costs = self.asked(), self.costs()
        return max(asked, key=lambda us: (asked[us], *costs[us], -us))

    def sales(self, unit: Decimal) -> dict[Decimal, Sale]:
        """What follows from selling each size at ``unit``."""
        return {
            us: sale_at(unit, terms=x.terms, cost=x.cost_at(self.spot).figures)
            for us, x in self.sizes.items()
        }

    def worst(self, unit: Decimal) -> Sale:
        """The sale of the size with the worst margin at ``unit``."""
        return min(self.sales(unit).values(), key=lambda sale: sale.margin)


def random_band(seed: int, *, policy: dict | None = None) -> Drawn:
    """The band of one seed; ``policy`` replaces members of its policy."""
    draw = Draw(seed)
    while True:
        book, coin = draw.book(), draw.coin()
        rules = replace(book.policies[0], **{**limits(draw, book), **(policy or {})})
        book = replace(book, policies=(rules,))
        least = draw.figure(5, 12, "0.25")
        most = least + draw.figure(0, 2, "0.25")
        extras = draw.pick((), ("box",))
        try:
            band = compile_band(
                book, coin, size_from=least, size_to=most, extras=extras
            )
        except NotMakeable:
            continue
        sizes = long_way(book, coin, least, most, extras)
        spot = Spot(price=draw.figure(1, 90), currency=book.currency.code)
        return Drawn(band, sizes, spot, current_price(draw, sizes, spot))


def limits(draw: Draw, book: pb.PriceBook) -> dict:
    step = book.currency.step
    return {
        "floor_margin": draw.figure(0, "0.3"),
        "dead_band": pb.DeadBand(
            amount=draw.pick(0, 100, 400) * step, share=draw.figure(0, "0.06")
        ),
        "max_step": draw.pick(Decimal(1), draw.figure("0.05", "0.4")),
        "allow_lowering": draw.rng.randrange(3) > 0,
    }


def long_way(
    book: pb.PriceBook, coin: Coin, least: Decimal, most: Decimal, extras: tuple
) -> dict[Decimal, Prepared]:
    found = {}
    while least <= most:
        wish = Wish(size=us_size(least), extras=extras)
        found[least] = prepare.__wrapped__(book, coin, wish)
        least += QUARTER
    return found


def current_price(draw: Draw, sizes: dict[Decimal, Prepared], spot: Spot) -> Decimal:
    """Near the price that is asked for, so that every decision comes up."""
    any_size = next(iter(sizes.values()))
    asked = any_size.price_at(spot).sale.unit
    moved = asked * draw.pick(Decimal(1), draw.figure("0.5", "1.6", "0.001"))
    step = any_size.book.currency.step
    return max(step, moved // step * step)


def decided(drawn: Drawn) -> tuple[str, Decimal]:
    """The decision and the price after it, with fractions."""
    policy, current = drawn.policy, Fraction(drawn.current)
    asked = Fraction(max(drawn.asked().values()))
    worst = drawn.worst(drawn.current)
    change = asked - current
    beyond = abs(change) > Fraction(policy.max_step) * current
    under = Fraction(worst.margin) < Fraction(policy.floor_margin) * Fraction(worst.net)
    inside = (
        abs(change) <= Fraction(policy.dead_band.amount)
        or abs(change) <= Fraction(policy.dead_band.share) * current
    )
    if under:
        word = "raise" if change > 0 else "hold"
    elif inside or (change < 0 and not policy.allow_lowering):
        word = "hold"
    else:
        word = "raise" if change > 0 else "lower"
    if word != "hold" and beyond:
        word = "review"
    return word, drawn.current if word == "hold" else max(drawn.asked().values())
