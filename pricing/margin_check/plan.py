"""What a quote or a ready-made listing promised, as the figures a job is held to.

Amounts are in the job's currency and for the whole job or line, in whole minor
units, as they were presented; times are attended minutes [min].
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from pricing.money import ONE, ZERO, Currency


@dataclass(frozen=True, slots=True, kw_only=True)
class PlannedStage:
    """What was planned of one stage for one line.

    Attributes:
        key, title: of the stage.
        minutes: for the whole line, all starts and visits [min].
        minutes_per_try: for one attempt that comes here at all, all its visits
            [min].
        scrap_chance: that a visit scraps the piece [fraction].
        redo_chance: that a visit sends it back [fraction]; None: never.
        redo_to: key of the stage it goes back to; None: to this one.
        visits_per_try: expected of one attempt that comes here at all, visits ÷
            reached [visits].
    """

    key: str
    title: str
    minutes: Decimal
    minutes_per_try: Decimal
    scrap_chance: Decimal = ZERO
    redo_chance: Decimal | None = None
    redo_to: str | None = None
    visits_per_try: Decimal = ONE

    @property
    def minutes_per_visit(self) -> Decimal:
        """What one visit was to take [min]."""
        return self.minutes_per_try / self.visits_per_try


@dataclass(frozen=True, slots=True, kw_only=True)
class PlannedLine:
    """What was planned of one line of a job: so many pieces of one coin and size.

    Attributes:
        coin_key, coin_name: of the coin.
        pieces: good rings promised [pieces].
        goods: what the buyer was to pay for them, tax and all [currency].
        coins: that were to be started, starts for a good piece × pieces [coins].
        coin_amount: what they were to cost [currency].
        recovery: what slugs, filings and scrap were to bring in, 0 or more
            [currency].
        labour, overhead: of the bench [currency].
        minutes: attended [min].
        consumables_and_tools: used up and worn [currency].
        other: extras, packaging and what comes after the sale [currency].
        slug_g, bored_g: what the model takes out of one coin, without the book's
            calibration [g]; None where it is not known.
        stages: the route, in order.
    """

    coin_key: str
    coin_name: str
    pieces: int
    goods: Decimal
    coins: Decimal
    coin_amount: Decimal
    recovery: Decimal
    labour: Decimal
    overhead: Decimal
    minutes: Decimal
    consumables_and_tools: Decimal
    other: Decimal
    slug_g: Decimal | None = None
    bored_g: Decimal | None = None
    stages: tuple[PlannedStage, ...] = ()

    @property
    def cost(self) -> Decimal:
        """What making them was to cost, less what comes back [currency]."""
        bench = self.labour + self.overhead + self.consumables_and_tools
        return self.coin_amount + bench + self.other - self.recovery

    @property
    def coin_price(self) -> Decimal:
        """The standard price of a coin [currency]."""
        return self.coin_amount / self.coins if self.coins else ZERO

    @property
    def labour_rate(self) -> Decimal:
        """The standard wage of an attended hour [currency/h]."""
        return self.labour * 60 / self.minutes if self.minutes else ZERO

    @property
    def overhead_rate(self) -> Decimal:
        """The overhead of an attended hour [currency/h]."""
        return self.overhead * 60 / self.minutes if self.minutes else ZERO


@dataclass(frozen=True, slots=True, kw_only=True)
class JobPlan:
    """What was planned of a whole job.

    Attributes:
        currency: of every amount.
        lines: what is to be made, one line at least.
        sold_price: what the buyer was to pay for the goods, tax and all [currency].
        shipping_charged: the same for sending them [currency].
        tax: all the tax inside both [currency].
        fees: what the channel was to take [currency].
        shipping_paid: what sending was to cost [currency].
        floor_margin: least margin over the net of the goods [fraction].
    """

    currency: Currency
    lines: tuple[PlannedLine, ...]
    sold_price: Decimal
    shipping_charged: Decimal = ZERO
    tax: Decimal = ZERO
    fees: Decimal = ZERO
    shipping_paid: Decimal = ZERO
    floor_margin: Decimal = ZERO

    @property
    def net(self) -> Decimal:
        """What comes in without tax, for goods and sending [currency]."""
        return self.sold_price + self.shipping_charged - self.tax

    @property
    def cost(self) -> Decimal:
        """What it all costs: making, fees and sending [currency]."""
        making = sum((line.cost for line in self.lines), ZERO)
        return making + self.fees + self.shipping_paid

    @property
    def margin(self) -> Decimal:
        """Net − cost [currency]."""
        return self.net - self.cost
