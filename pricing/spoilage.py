"""What failures do to a route: visits, coins lost, the chance of a good ring.

The stages form an absorbing Markov chain [1]. A visit to stage i ends with the
piece scrapped (chance q_i), sent back to a stage k(i) ≤ i (chance r_i) or
passed on; past the last stage it is good. With Q the matrix of moves between
stages and N = (I − Q)⁻¹:

    visits v_i = N[0, i]              mean visits to stage i of one start
    reached_i  = v_i / N[i, i]        chance that a start comes to stage i at all
    P_i        = N[i, last] · pass    chance that a piece now at stage i ends good
    P          = P_0                  chance that a start ends good
    scrapped_i = v_i · q_i            chance that a start ends scrapped at stage i

References:
    [1] C. M. Grinstead and J. L. Snell, "Introduction to Probability", ch. 11:
        absorbing chains and the fundamental matrix (from memory; figures are
        checked in tests/reference).
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

import numpy as np
from numpy.typing import NDArray

from pricing import money
from pricing.chance import ChanceEstimate, estimated_chance
from pricing.errors import InvalidInput
from pricing.money import ONE, ZERO
from pricing.price_book.bench import Stage
from pricing.starts import chance_of_enough, coins_to_start, cost_per_good_piece

__all__ = [
    "MOST_VISITS",
    "ChanceEstimate",
    "Spoilage",
    "StageSpoilage",
    "chance_of_enough",
    "coins_to_start",
    "cost_per_good_piece",
    "estimated_chance",
    "fundamental_matrix",
    "spoilage",
]

MOST_VISITS = 10_000
"""Mean visits of one start to one stage beyond which a route is refused."""


@dataclass(frozen=True, slots=True, kw_only=True)
class StageSpoilage:
    """What becomes of one start at one stage.

    Attributes:
        key, title: of the stage.
        scrap, redo: chances at one visit; no redo is None.
        redo_to: position of the stage it goes back to, from 0; None without redo.
        visits: mean number of visits [visits/start].
        reached: chance to come here at all [fraction].
        scrapped: chance to end here as scrap [fraction].
        chance_good_from: chance that a piece now here ends good [fraction].
    """

    key: str
    title: str
    scrap: ChanceEstimate
    redo: ChanceEstimate | None
    redo_to: int | None
    visits: Decimal
    reached: Decimal
    scrapped: Decimal
    chance_good_from: Decimal


@dataclass(frozen=True, slots=True, kw_only=True)
class Spoilage:
    """What becomes of one start on a whole route.

    Attributes:
        stages: stage by stage, in the order of the route.
        chance_good: chance that a start ends good [fraction].
    """

    stages: tuple[StageSpoilage, ...]
    chance_good: Decimal

    @property
    def starts_per_good(self) -> Decimal:
        """Mean coins started for one good piece, 1 / chance_good [coins]."""
        return money.half_up(ONE / self.chance_good, money.CHANCE_STEP)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Exits:
    """The ways out of one visit to a stage, as chances."""

    scrap: ChanceEstimate
    redo: ChanceEstimate | None
    redo_to: int | None

    @property
    def leaving(self) -> Decimal:
        return self.scrap.value + (ZERO if self.redo is None else self.redo.value)

    @property
    def passing(self) -> float:
        return float(ONE - self.leaving)


def spoilage(stages: tuple[Stage, ...], *, prudence: Decimal | None = None) -> Spoilage:
    """Visits, scrap and the chance of a good ring for a route.

    Args:
        stages: the route, in order; with no stage nothing can fail.
        prudence: quantile to price counted chances at, scrap and redo alike
            [fraction]; None prices at their mean.

    Raises:
        InvalidInput: scrap and redo chance of a stage reach 1 together, a redo
            leads to a later or unknown stage, the route all but never ends, or
            all but nothing comes through it.

    >>> from pricing.price_book import Chance
    >>> cut = Stage(key="cut", title="Cut", scrap=Chance(rate=Decimal("0.10")))
    >>> spoilage((cut, cut)).chance_good
    Decimal('0.810000000')
    """
    if not stages:
        return Spoilage(stages=(), chance_good=ONE)
    exits = _exits(stages, prudence)
    matrix = fundamental_matrix(_transitions(exits))
    good_from = matrix[:, -1] * exits[-1].passing
    _refuse_endless(stages, matrix[0])
    _refuse_hopeless(good_from[0])
    return Spoilage(
        stages=tuple(
            StageSpoilage(
                key=stage.key,
                title=stage.title,
                scrap=out.scrap,
                redo=out.redo,
                redo_to=out.redo_to,
                visits=money.chance(matrix[0, i]),
                reached=money.chance(matrix[0, i] / matrix[i, i]),
                scrapped=money.chance(matrix[0, i] * float(out.scrap.value)),
                chance_good_from=money.chance(good_from[i]),
            )
            for i, (stage, out) in enumerate(zip(stages, exits, strict=True))
        ),
        chance_good=money.chance(good_from[0]),
    )


def fundamental_matrix(transitions: NDArray[np.float64]) -> NDArray[np.float64]:
    """Mean visits between the stages of an absorbing chain, N = (I − Q)⁻¹.

    Args:
        transitions: Q, chance to move from row to column in one step [fraction].

    Returns:
        Mean visits to the column of a piece now at the row, this one counted
        [visits].

    Raises:
        InvalidInput: pieces can stay among the stages for ever.

    >>> fundamental_matrix(np.array([[0.5]])).tolist()
    [[2.0]]
    """
    try:
        return np.asarray(
            np.linalg.inv(np.eye(len(transitions)) - transitions), dtype=np.float64
        )
    except np.linalg.LinAlgError:
        raise InvalidInput(
            "the route never ends: some stages only lead to each other; lower a redo "
            "chance",
            path=("stages",),
        ) from None


def _exits(stages: tuple[Stage, ...], prudence: Decimal | None) -> tuple[_Exits, ...]:
    positions = {stage.key: i for i, stage in enumerate(stages)}
    return tuple(
        _stage_exits(i, stage, positions, prudence=prudence)
        for i, stage in enumerate(stages)
    )


def _stage_exits(
    i: int, stage: Stage, positions: dict[str, int], *, prudence: Decimal | None
) -> _Exits:
    path = ("stages", i)
    scrap = estimated_chance(stage.scrap, prudence=prudence, path=(*path, "scrap"))
    redo, redo_to = None, None
    if stage.redo is not None:
        chance = stage.redo.chance
        redo = estimated_chance(chance, prudence=prudence, path=(*path, "redo"))
        redo_to = positions.get(stage.redo.to)
        if redo_to is None or redo_to > i:
            raise InvalidInput(
                f"stage '{stage.key}' sends pieces back to '{stage.redo.to}'; name "
                "the stage itself or one before it",
                path=(*path, "redo", "to"),
            )
    exits = _Exits(scrap=scrap, redo=redo, redo_to=redo_to)
    if exits.leaving >= ONE:
        raise InvalidInput(
            f"stage '{stage.key}' scraps or sends back {exits.leaving} of its pieces; "
            "both chances together must stay below 1, so that some pass: lower one",
            path=(*path, "scrap"),
        )
    return exits


def _transitions(exits: tuple[_Exits, ...]) -> NDArray[np.float64]:
    moves = np.zeros((len(exits), len(exits)))
    for i, out in enumerate(exits):
        if i + 1 < len(exits):
            moves[i, i + 1] = out.passing
        if out.redo is not None:
            moves[i, out.redo_to] = float(out.redo.value)
    return moves


def _refuse_endless(stages: tuple[Stage, ...], visits: NDArray[np.float64]) -> None:
    # Past this limit the inverse also loses the digits that are kept.
    for i, (stage, mean) in enumerate(zip(stages, visits, strict=True)):
        if not 0 <= mean <= MOST_VISITS:
            raise InvalidInput(
                f"a piece would pass through stage '{stage.key}' more than "
                f"{MOST_VISITS:,} times on average; lower the redo chances that lead "
                "back to it",
                path=("stages", i),
            )


def _refuse_hopeless(chance_good: float) -> None:
    if money.chance(chance_good) <= ZERO:
        raise InvalidInput(
            "not one start in a thousand million comes through this route; lower the "
            "scrap chances of its stages",
            path=("stages",),
        )
