"""Risk of one order: what it may cost, by seeded simulation.

Every piece of every simulated order walks its route stage by stage. A scrapped
piece is sold as scrap and a new coin is started, until as many are good as were
ordered. A customer's own coin is tried once: it is delivered or it is lost and
compensated. The same arguments give the same figures.

The mean agrees with the closed form, for n pieces

    n · ((cost per start − recovery per start) / P + per_good)

and with own coins, for n coins

    n · (cost per start − recovery per start + (1 − P) · compensation
         + P · per_good)

within its standard error; ``pricing.recovery`` derives the recovery.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal

import numpy as np
from numpy.typing import NDArray

from pricing import money
from pricing.errors import InvalidInput
from pricing.money import ZERO
from pricing.spoilage import Spoilage, StageSpoilage

MOST_PIECES = 500_000
"""Orders × pieces beyond which a simulation is refused."""

MOST_VISITS_PER_PIECE = 2_000
"""Mean stage visits for one piece beyond which a simulation is refused."""

MOST_VISITS = 20_000_000
"""Stage visits in all, on average, beyond which a simulation is refused."""

FIGURE_STEP = Decimal("0.0001")
LEAST_LOSS = float(FIGURE_STEP) / 2

Floats = NDArray[np.float64]
Positions = NDArray[np.intp]


@dataclass(frozen=True, slots=True, kw_only=True)
class AttemptCosts:
    """What an attempt costs and what its scrap brings in.

    Attributes:
        start: the coin and whatever else every start costs [currency].
        visits: cost of one visit to each stage, in route order [currency].
        removed_g: metal each stage takes off on its first visit [g].
        removal_credit: what that metal earns [currency].
        mass_g: mass of the coin before the first stage [g].
        scrap_credit_per_g: what a scrapped piece earns [currency/g].
        per_good: cost of each good piece beyond its attempts: extras,
            packaging, after the sale [currency].
        compensation: paid for each lost coin when the coins are the
            customer's [currency]; None when they are the workshop's.
    """

    start: Decimal = ZERO
    visits: tuple[Decimal, ...]
    removed_g: tuple[Decimal, ...]
    removal_credit: tuple[Decimal, ...]
    mass_g: Decimal
    scrap_credit_per_g: Decimal = ZERO
    per_good: Decimal = ZERO
    compensation: Decimal | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Risk:
    """What the simulated orders cost; figures at 0.0001.

    Attributes:
        orders: how many were simulated.
        seed: of the random numbers.
        mean: mean cost of an order [currency].
        standard_error: of that mean [currency].
        low, median, high: cost that 5, 50 and 95 % of orders stay within
            [currency].
        chance_of_loss: share of orders that earn less than they cost [fraction].
        mean_attempts: mean coins started for an order [coins].
    """

    orders: int
    seed: int
    mean: Decimal
    standard_error: Decimal
    low: Decimal
    median: Decimal
    high: Decimal
    chance_of_loss: Decimal
    mean_attempts: Decimal


@dataclass(frozen=True, slots=True, kw_only=True)
class _Route:
    """A route in arrays; ``end_scrapped`` by the number of stages a piece came to."""

    scrap: Floats
    leave: Floats
    back_to: Positions
    visit: Floats
    end_scrapped: Floats
    end_good: float
    start: float
    replaced: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class _Pieces:
    """What came of each piece ordered."""

    cost: Floats
    attempts: NDArray[np.int64]
    delivered: NDArray[np.bool_]


def simulate(  # noqa: PLR0913 - two of the six have defaults that nearly all keep
    spoilage: Spoilage,
    costs: AttemptCosts,
    *,
    good: int,
    proceeds: Decimal,
    seed: int = 1,
    orders: int = 4000,
) -> Risk:
    """Cost of one order and the chance that it loses money, by simulation.

    An attempt costs its start and every visit it makes, less what its removals
    earn, each on the first visit to its stage, and less what the piece earns
    as scrap at the mass it has left when it is scrapped. An order loses money
    when it costs more than it earns. With own coins only delivered pieces
    earn: proceeds × share of the pieces delivered.

    Args:
        spoilage: what becomes of a start.
        costs: what an attempt costs.
        good: pieces ordered [pieces].
        proceeds: what the whole order earns when every piece is delivered: net
            goods and shipping, less fees and shipping paid [currency].
        seed: of the random numbers, from 0 [whole number].
        orders: how many to simulate, at least 2 [orders].

    Raises:
        InvalidInput: a count or seed out of range, costs that do not fit the
            route, or more work than is reasonable.
    """
    _check_counts(good, orders, seed)
    _check_fit(spoilage, costs)
    _check_work(spoilage, good * orders, replaced=costs.compensation is None)
    rng = np.random.Generator(np.random.PCG64(seed))
    pieces = _walk(_route(spoilage.stages, costs), good * orders, rng)
    cost = pieces.cost.reshape(orders, good).sum(axis=1)
    share = pieces.delivered.reshape(orders, good).mean(axis=1)
    low, median, high = np.quantile(cost, (0.05, 0.5, 0.95))
    return Risk(
        orders=orders,
        seed=seed,
        mean=_figure(cost.mean()),
        standard_error=_figure(cost.std(ddof=1) / orders**0.5),
        low=_figure(low),
        median=_figure(median),
        high=_figure(high),
        # A loss too small to show is rounding noise of the sums.
        chance_of_loss=_figure(np.mean(cost - float(proceeds) * share > LEAST_LOSS)),
        mean_attempts=_figure(pieces.attempts.sum() / orders),
    )


def _figure(value: np.floating) -> Decimal:
    return money.half_up(Decimal(float(value)), FIGURE_STEP)


def _check_counts(good: int, orders: int, seed: int) -> None:
    for name, given, least in (
        ("quantity", good, 1),
        ("orders", orders, 2),
        ("seed", seed, 0),
    ):
        if given < least:
            raise InvalidInput(
                f"{name} is {given}; give a whole number from {least}", path=(name,)
            )


def _check_fit(spoilage: Spoilage, costs: AttemptCosts) -> None:
    stages = len(spoilage.stages)
    given = (costs.visits, costs.removed_g, costs.removal_credit)
    if any(len(figures) != stages for figures in given):
        raise InvalidInput(
            f"a route of {stages} stages needs as many visit costs, removals and "
            f"credits; given were {', '.join(str(len(figures)) for figures in given)}",
            path=("stages",),
        )


def _check_work(spoilage: Spoilage, pieces: int, *, replaced: bool) -> None:
    visits = sum((stage.visits for stage in spoilage.stages), ZERO)
    if replaced:
        visits *= spoilage.starts_per_good
    for what, asked, most in (
        ("pieces, orders × quantity", Decimal(pieces), MOST_PIECES),
        ("stage visits for a piece", visits, MOST_VISITS_PER_PIECE),
        ("stage visits in all", pieces * visits, MOST_VISITS),
    ):
        if asked > most:
            raise InvalidInput(
                f"this simulation takes about {asked:,.0f} {what}; the most is "
                f"{most:,}: simulate fewer orders, or leave the risk out",
                path=("orders",),
            )


def _route(stages: tuple[StageSpoilage, ...], costs: AttemptCosts) -> _Route:
    scrap = _floats(stage.scrap.value for stage in stages)
    redo = _floats(ZERO if stage.redo is None else stage.redo.value for stage in stages)
    credit = np.concatenate(([0.0], np.cumsum(_floats(costs.removal_credit))))
    gone_g = np.concatenate(([0.0], np.cumsum(_floats(costs.removed_g))))
    scrap_value = (float(costs.mass_g) - gone_g) * float(costs.scrap_credit_per_g)
    return _Route(
        scrap=scrap,
        leave=scrap + redo,
        back_to=np.array([stage.redo_to or 0 for stage in stages], dtype=np.intp),
        visit=_floats(costs.visits),
        end_scrapped=float(costs.compensation or ZERO) - credit - scrap_value,
        end_good=float(costs.per_good) - credit[-1],
        start=float(costs.start),
        replaced=costs.compensation is None,
    )


def _floats(figures: Iterable[Decimal]) -> Floats:
    return np.array([float(figure) for figure in figures])


def _walk(route: _Route, pieces: int, rng: np.random.Generator) -> _Pieces:
    """Take all pieces through the route at once, one visit a turn."""
    stages = len(route.visit)
    cost = np.full(pieces, route.start)
    attempts = np.ones(pieces, dtype=np.int64)
    delivered = np.ones(pieces, dtype=np.bool_)
    who = np.arange(pieces if stages else 0)
    at = np.zeros_like(who)
    furthest = np.zeros_like(who)
    while who.size:
        cost[who] += route.visit[at]
        # A stage is first reached from the one before it: the furthest stage says
        # which removals are done.
        furthest = np.maximum(furthest, at)
        draw = rng.random(who.size)
        scrapped = draw < route.scrap[at]
        at = np.where(draw < route.leave[at], route.back_to[at], at + 1)
        if scrapped.any():
            lost = who[scrapped]
            cost[lost] += route.end_scrapped[furthest[scrapped] + 1]
            if route.replaced:
                cost[lost] += route.start
                attempts[lost] += 1
                at[scrapped] = furthest[scrapped] = 0
            else:
                delivered[lost] = False
                at[scrapped] = stages
        under_way = at < stages
        who, at, furthest = who[under_way], at[under_way], furthest[under_way]
    cost[delivered] += route.end_good
    return _Pieces(cost=cost, attempts=attempts, delivered=delivered)
