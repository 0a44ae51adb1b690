"""A route walked naively in exact fractions, by the furthest stage a piece came to.

While stage f is the furthest, a piece moves among stages 0 to f until it is passed
on from f, which makes f + 1 the furthest, or is scrapped, which ends it without the
metal that stages 0 to f have removed. Nothing here is shared with the code tested.
"""

from dataclasses import dataclass
from fractions import Fraction

from scipy.stats import beta


def solved(matrix, right):
    """x of matrix · x = right, by elimination."""
    rows = [[*row, value] for row, value in zip(matrix, right, strict=True)]
    for i in range(len(rows)):
        pivot = next(k for k in range(i, len(rows)) if rows[k][i])
        rows[i], rows[pivot] = rows[pivot], rows[i]
        rows[i] = [x / rows[i][i] for x in rows[i]]
        for k in range(len(rows)):
            if k != i and rows[k][i]:
                by = rows[k][i]
                rows[k] = [
                    x - by * y if y else x
                    for x, y in zip(rows[k], rows[i], strict=True)
                ]
    return [row[-1] for row in rows]


def chance(of, prudence=None):
    """A rate, or (failed + ½) / (tried + 1), or the quantile of its spread."""
    if of.rate is not None:
        return Fraction(of.rate)
    if prudence is None:
        return Fraction(2 * of.failed + 1, 2 * of.tried + 2)
    good = of.tried - of.failed
    return Fraction(float(beta.ppf(float(prudence), of.failed + 0.5, good + 0.5)))


def moves_of(stages, prudence=None):
    """(scrap, redo, back to) for every stage."""
    at = {each.key: i for i, each in enumerate(stages)}
    none = Fraction(0), 0
    return [
        (
            chance(each.scrap, prudence),
            *(
                (chance(each.redo.chance, prudence), at[each.redo.to])
                if each.redo
                else none
            ),
        )
        for each in stages
    ]


@dataclass(frozen=True)
class Walk:
    """What becomes of one start, in fractions.

    Attributes:
        visits: mean visits to each stage.
        reached: chance to come to each stage.
        lost: chance to be scrapped while each stage is the furthest.
        good: chance to end good.
    """

    visits: list
    reached: list
    lost: list
    good: Fraction


def walk(moves):
    """Follow one start through ``moves``."""
    visits, reached, lost = [Fraction(0)] * len(moves), [], []
    here = Fraction(1)
    for furthest in range(len(moves)):
        among = _visits_while(moves[: furthest + 1])
        reached.append(here)
        scrapped = sum(x * move[0] for x, move in zip(among, moves, strict=False))
        lost.append(here * scrapped)
        for i, mean in enumerate(among):
            visits[i] += here * mean
        scrap, redo, _ = moves[furthest]
        here *= among[furthest] * (1 - scrap - redo)
    return Walk(visits, reached, lost, here)


def _visits_while(moves):
    """Visits to each of these stages, from the last, until passed on or scrapped."""
    size = len(moves)
    flow = [[Fraction(int(i == j)) for j in range(size)] for i in range(size)]
    for i, (scrap, redo, to) in enumerate(moves):
        flow[to][i] -= redo
        if i + 1 < size:
            flow[i + 1][i] -= 1 - scrap - redo
    return solved(flow, [Fraction(int(i == size - 1)) for i in range(size)])
