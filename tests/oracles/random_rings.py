"""Price books, coins and wishes drawn from a seed, quickly: thousands in a test.

Every one of them can be made and priced; ``tests/strategies`` has wider ones, which
take longer to draw.
"""

import random
from dataclasses import dataclass
from decimal import Decimal

from pricing import price_book as pb
from pricing.coin import Coin
from pricing.money import currency
from pricing.ring_size import us_size
from pricing.spot import Spot
from pricing.wish import OwnCoin, Wish

KEYS = ("punch", "fold", "anneal", "bore", "polish")
USES = ("tape", "gas")
TOOLS = ("cone", "press")


@dataclass(frozen=True)
class Case:
    """All that one estimate needs."""

    book: pb.PriceBook
    coin: Coin
    spot: Spot
    wish: Wish


class Draw:
    """Figures from one seed."""

    def __init__(self, seed):
        self.rng = random.Random(seed)  # noqa: S311 - repeatable, nothing secret

    def figure(self, least, most, step="0.01"):
        step = Decimal(step)
        lowest, highest = (int(Decimal(str(end)) / step) for end in (least, most))
        return self.rng.randint(lowest, highest) * step

    def maybe(self, make, *, of=2):
        return make() if self.rng.randrange(of) == 0 else None

    def pick(self, *choices):
        return self.rng.choice(choices)

    def chance(self, most):
        if self.rng.randrange(2):
            return pb.Chance(rate=self.figure(0, most))
        tried = self.rng.randint(20, 400)
        failed = self.rng.randint(0, int(tried * most / 2))
        return pb.Chance(tried=tried, failed=failed)

    def drivers(self, most):
        name = self.pick(*pb.DRIVERS)
        return {} if self.rng.randrange(2) else {name: self.figure(0, most)}

    def stage(self, i, count):
        to = KEYS[self.rng.randint(0, i)]
        uses = tuple(
            pb.ConsumableUse(
                key=key, quantity=self.figure(0, 2), quantity_per=self.drivers(1)
            )
            for key in USES
            if self.rng.randrange(3) == 0
        )
        return pb.Stage(
            key=KEYS[i],
            title=KEYS[i],
            setup_minutes=self.figure(0, 5),
            batch=self.rng.randint(1, 6),
            minutes=self.figure(0, 12),
            minutes_per=self.drivers(2),
            consumables=uses,
            tools=tuple(key for key in TOOLS if self.rng.randrange(3) == 0),
            removes=self.removal(i, count),
            scrap=self.chance(0.12),
            redo=self.maybe(lambda: pb.Redo(chance=self.chance(0.20), to=to), of=3),
        )

    @staticmethod
    def removal(i, count):
        return "slug" if i == 0 else {1: "finish", 2: "bore"}.get(count - i, "")

    def channel(self, unit):
        bases = [b for b in pb.FEE_BASES if self.rng.randrange(2)]
        return pb.Channel(
            key="shop",
            tax=pb.Tax(
                rate=self.pick(Decimal(0), Decimal("0.2"), self.figure(0, 0.27)),
                inclusive=bool(self.rng.randrange(2)),
            ),
            fees=tuple(
                pb.Fee(
                    label=base,
                    rate=self.figure(0, 0.08),
                    fixed=self.figure(0, 1),
                    on=base,
                )
                for base in bases
            ),
            shipping=pb.Shipping(
                charged=self.figure(0, 9, unit.step), paid=self.figure(0, 9, unit.step)
            ),
            packaging=self.figure(0, 3),
        )

    def policy(self, unit):
        target = self.maybe(lambda: self.figure(0.15, 0.5))
        weights = {kind: self.figure(0, 3) for kind in pb.LINE_KINDS[:5]}
        step = self.pick(5, 10, 25, 100, 250, 500) * unit.step
        grid = pb.Rounding(step=step, offset=-self.rng.randint(0, 5) * unit.step)
        return pb.Policy(
            key="only",
            target_margin=target,
            floor_margin=self.figure(0, 0.15),
            markup=self.figure(0, 2) if target is None else None,
            multipliers=self.maybe(lambda: weights, of=4),
            min_hourly=self.maybe(lambda: self.figure(5, 80), of=4),
            min_price=self.maybe(lambda: self.figure(10, 90), of=4),
            rounding=self.maybe(lambda: grid),
            prudence=self.maybe(lambda: self.figure(0.55, 0.95), of=3),
            quantity_breaks=()
            if target is None
            else (
                pb.QuantityBreak(
                    from_quantity=self.rng.randint(2, 3), target_margin=target * 9 / 10
                ),
            ),
        )

    def shelf(self):
        """Consumables and tools."""
        return {
            "consumables": tuple(
                pb.Consumable(key=key, unit="m", price=self.figure(0, 2))
                for key in USES
            ),
            "tools": tuple(
                pb.Tool(
                    key=key,
                    price=self.figure(50, 200),
                    salvage=self.figure(0, 50),
                    life_uses=self.rng.randint(50, 4000),
                )
                for key in TOOLS
            ),
        }

    def metal(self):
        """How coins are bought and scrap is sold."""
        return {
            "recovery": pb.Recovery(
                slug=self.figure(0, 1),
                filings=self.figure(0, 1),
                scrap=self.figure(0, 1),
                finish_loss=self.figure(0, 0.05, "0.001"),
            ),
            "coin_buying": pb.CoinBuying(
                basis=self.pick("melt", "paid", "greater_of"),
                premium=self.figure(0, 0.3),
                extra=self.figure(0, 2),
                paid=self.figure(15, 40),
                wear=self.figure(0, 0.03, "0.001"),
            ),
        }

    def book(self):
        unit = currency(self.pick("EUR", "EUR", "USD", "JPY", "KWD"))
        count = self.rng.randint(3, 5)
        box = pb.Extra(key="box", price_cost=self.figure(0, 5), minutes=Decimal(2))
        return pb.PriceBook(
            title="Drawn",
            currency=unit,
            timezone="UTC",
            labour=pb.Labour(
                rate_per_hour=self.figure(5, 60), overhead_per_hour=self.figure(0, 20)
            ),
            **self.shelf(),
            **self.metal(),
            stages=tuple(self.stage(i, count) for i in range(count)),
            after_sale=pb.AfterSale(rate=self.figure(0, 0.1), share=self.figure(0, 1)),
            channels=(self.channel(unit),),
            policies=(self.policy(unit),),
            extras=(box,),
            forming=pb.Forming(
                min_wall_mm=Decimal("0.1"),
                min_land_mm=Decimal(1),
                opening_allowance=self.figure(2, 3, "0.1"),
            ),
        )

    def coin(self):
        across = self.figure(26, 40, "0.1")
        thick = self.rng.uniform(1.4, 2.6)
        fine = self.pick(500, 640, 800, 900, 925, 999)
        volume = thick * 3.14159 * float(across) ** 2 / 4000
        return Coin(
            name="Drawn coin",
            fineness_permille=Decimal(fine),
            gross_mass_g=Decimal(f"{volume * 10.3:.2f}"),
            diameter_mm=across,
            bore_allowance=self.figure(0, 2, "0.5"),
            natural_size=self.figure(8, 19, "0.5"),
        )

    def wish(self, coin):
        hole = Decimal(f"{float(coin.diameter_mm) * self.rng.uniform(0.38, 0.55):.2f}")
        owed = self.maybe(lambda: OwnCoin(compensation=self.figure(0, 60)), of=8)
        return Wish(
            size=us_size(self.figure(5, 13, "0.5")),
            quantity=self.pick(1, 1, 2, 3, 5),
            hole_mm=hole,
            extras=self.pick((), ("box",)),
            own_coin=owed,
        )


def random_case(seed):
    """The case of one seed."""
    draw = Draw(seed)
    book, coin = draw.book(), draw.coin()
    price = draw.figure(12, 60)
    spot = Spot(price=price, currency=book.currency.code)
    return Case(book, coin, spot, draw.wish(coin))
