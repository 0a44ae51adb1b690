"""The cost of one good ring worked naively: fractions, and floats for geometry only.

Written from the model's description; of the code tested it reads only the values
of a price book and a coin.
"""

import math
from dataclasses import dataclass
from fractions import Fraction

from tests.oracles.chains import moves_of, walk

GRAMS_IN_OUNCE = Fraction("31.1034768")
DENSITIES = {"Ag": 10.49, "Cu": 8.96, "Ni": 8.908, "Zn": 7.14, "Mn": 7.21}


def half_up(value, step):
    """To the nearest ``step``, halves away from zero."""
    step = Fraction(step)
    size = math.floor(abs(Fraction(value)) / step + Fraction(1, 2)) * step
    return size if value >= 0 else -size


def first(*given):
    """The first that is given, as a fraction."""
    return next((Fraction(each) for each in given if each is not None), None)


def density(coin):
    if coin.density_g_cm3 is not None:
        return float(coin.density_g_cm3)
    fine = float(coin.fineness_permille)
    alloy = dict(coin.alloy) or {"Ag": fine, "Cu": 1000 - fine}
    total = sum(float(part) for part in alloy.values())
    return total / sum(float(part) / DENSITIES[e] for e, part in alloy.items())


def inside_radius(us):
    return 25.4 * (0.458 + 0.032 * float(us)) / 2


@dataclass(frozen=True)
class Shape:
    """Masses [g] in fractions, and the drivers."""

    mass: Fraction
    slug: Fraction
    bored: Fraction
    loss: Fraction
    drivers: dict

    @property
    def removed(self):
        return {"slug": self.slug, "bore": self.bored, "finish": self.loss, "": 0}

    @property
    def finished(self):
        return self.mass - self.slug - self.bored - self.loss


def bored_mm3(coin, mass, *, us, hole, bore):
    """Volume inside the target radius that the folded land fills, in closed form."""
    across, land = float(coin.diameter_mm), (float(coin.diameter_mm) - float(hole)) / 2
    thick = float(mass) / (density(coin) / 1000 * math.pi * across**2 / 4)
    before, after = inside_radius(us - bore), inside_radius(us)
    gain = after**2 - before**2
    if gain / (2 * thick) <= land:
        return math.pi * gain**2 / (4 * thick)
    outer2 = before**2 + thick * across
    ring = thick * ((across / 2) ** 2 - (float(hole) / 2) ** 2)
    return math.pi * ((after**2 - outer2) * land + ring)


def shape(book, coin, *, us, hole):
    """The forming plan of a coin whose bore allowance and natural size are given."""
    milligram = Fraction(1, 10000)
    wear = first(coin.wear, book.coin_buying.wear)
    mass = half_up(Fraction(coin.gross_mass_g) * (1 - wear), milligram)
    share = (Fraction(hole) / Fraction(coin.diameter_mm)) ** 2
    slug = half_up(mass * share, milligram)
    volume = bored_mm3(coin, mass, us=us, hole=hole, bore=coin.bore_allowance)
    bored = half_up(Fraction(density(coin) / 1000 * volume), milligram)
    loss = half_up(
        (mass - slug - bored) * Fraction(book.recovery.finish_loss), milligram
    )
    opened = Fraction(us) + Fraction(book.forming.opening_allowance)
    natural = Fraction(coin.natural_size)
    drivers = {
        "wrap_sizes": max(Fraction(0), natural - opened),
        "stretch_sizes": max(Fraction(0), opened - natural),
        "press_sizes": Fraction(book.forming.opening_allowance),
        "dome_sizes": Fraction(coin.bore_allowance),
        "bored_g": bored,
        "land_mm": half_up((Fraction(coin.diameter_mm) - Fraction(hole)) / 2, "0.001"),
    }
    return Shape(mass, slug, bored, loss, drivers)


def driven(base, per, drivers):
    return Fraction(base) + sum(Fraction(x) * drivers[name] for name, x in per.items())


def minutes_of(each, drivers):
    setup = Fraction(each.setup_minutes) / each.batch
    return setup + driven(each.minutes, each.minutes_per, drivers)


def coin_price(book, coin, mass, spot):
    """Replacement cost of a coin at a spot."""
    buying = book.coin_buying
    paid = first(coin.paid, buying.paid)
    fine = mass * Fraction(coin.fineness_permille) / 1000 / GRAMS_IN_OUNCE
    melt = fine * spot * (1 + first(coin.premium, buying.premium))
    melt += first(coin.extra, buying.extra)
    basis = "paid" if coin.metal == "base" else coin.basis or buying.basis
    return {"melt": melt, "paid": paid, "greater_of": max(melt, paid or melt)}[basis]


@dataclass(frozen=True)
class Worked:
    """One good ring in fractions: cost by kind, totals, masses of one start [g]."""

    by_kind: dict
    minutes: Fraction
    labour: Fraction
    good: Fraction
    slug: Fraction
    filings: Fraction
    scrap: Fraction
    shape: Shape

    @property
    def per_piece(self):
        return sum(self.by_kind.values())


def worked(book, coin, wish, *, hole, spot):
    """The cost of one good ring at a spot, whose hole is known."""
    formed = shape(book, coin, us=wish.size.us, hole=hole)
    route = walk(moves_of(book.stages, book.policy(wish.policy).prudence))
    spot = Fraction(spot)
    slug, filings, scrap = returned(book.stages, formed, route)
    at_bench = bench(book, formed.drivers, route)
    extras = [book.extra(key) for key in wish.extras]
    wage = Fraction(book.labour.rate_per_hour)
    hourly = wage + Fraction(book.labour.overhead_per_hour)
    own = wish.own_coin
    coin_line = (
        (1 - route.good) * Fraction(own.compensation)
        if own
        else coin_price(book, coin, formed.mass, spot)
    )
    back = Fraction(0)
    if not own and coin.metal != "base":
        terms = book.recovery
        paid = slug * Fraction(terms.slug) + filings * Fraction(terms.filings)
        paid += scrap * Fraction(terms.scrap)
        back = paid * Fraction(coin.fineness_permille) / 1000 / GRAMS_IN_OUNCE * spot
    minutes = at_bench.pop("minutes") / route.good
    by_kind = {kind: part / route.good for kind, part in at_bench.items()}
    by_kind["coin"], by_kind["recovery"] = coin_line / route.good, -back / route.good
    by_kind["extra"] = sum(
        (Fraction(x.price_cost) + Fraction(x.minutes) / 60 * hourly for x in extras),
        Fraction(0),
    )
    by_kind["packaging"] = Fraction(book.channel(wish.channel).packaging)
    after = Fraction(book.after_sale.rate) * Fraction(book.after_sale.share)
    by_kind["after_sale"] = after * sum(by_kind.values())
    minutes += sum(Fraction(x.minutes) for x in extras)
    return Worked(
        by_kind, minutes, minutes / 60 * wage, route.good, slug, filings, scrap, formed
    )


def bench(book, drivers, route):
    """Labour, overhead, consumables and tool wear of one start."""
    sums = dict.fromkeys(("minutes", "consumable", "tool"), Fraction(0))
    for visits, each in zip(route.visits, book.stages, strict=True):
        sums["minutes"] += visits * minutes_of(each, drivers)
        for use in each.consumables:
            quantity = driven(use.quantity, use.quantity_per, drivers)
            price = Fraction(book.consumable(use.key).price)
            sums["consumable"] += visits * quantity * price
        for key in each.tools:
            tool = book.tool(key)
            wear = (Fraction(tool.price) - Fraction(tool.salvage)) / tool.life_uses
            sums["tool"] += visits * wear
    hours = sums["minutes"] / 60
    sums["labour"] = hours * Fraction(book.labour.rate_per_hour)
    sums["overhead"] = hours * Fraction(book.labour.overhead_per_hour)
    return sums


def returned(stages, formed, route):
    """Slug, filings and scrap expected of one start [g], level by level."""
    slug = filings = scrap = Fraction(0)
    left = formed.mass
    for each, reached, lost in zip(stages, route.reached, route.lost, strict=True):
        taken = formed.removed[each.removes]
        left -= taken
        slug += reached * taken if each.removes == "slug" else 0
        filings += reached * taken if each.removes in {"bore", "finish"} else 0
        scrap += lost * left
    return slug, filings, scrap
