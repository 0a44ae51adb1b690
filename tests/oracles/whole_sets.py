"""Coins to start for a set, found by trying every combination, in exact fractions."""

from collections.abc import Iterator
from fractions import Fraction
from functools import cache
from itertools import count
from math import comb, prod

BILLION = 10**9


@cache
def enough(good: int, started: int, chance: Fraction) -> Fraction:
    """P(at least ``good`` of ``started`` end good), summed term by term."""
    return sum(
        (
            comb(started, i) * chance**i * (1 - chance) ** (started - i)
            for i in range(good, started + 1)
        ),
        Fraction(0),
    )


def at_a_billionth(chance: Fraction) -> Fraction:
    return Fraction((2 * chance * BILLION + 1) // 2, BILLION)


def splits(total: int, kinds: int) -> Iterator[tuple[int, ...]]:
    """Every way to give ``total`` coins to so many kinds."""
    if kinds == 1:
        yield (total,)
        return
    for first in range(total + 1):
        for rest in splits(total - first, kinds - 1):
            yield first, *rest


def best_set(
    wanted: list[tuple[int, Fraction]], confidence: Fraction
) -> tuple[int, Fraction]:
    """The fewest coins in all that will do, and the best chance they can give."""
    pieces = sum(good for good, _ in wanted)
    for more in count():
        best = max(
            prod(
                enough(good, good + spare, chance)
                for (good, chance), spare in zip(wanted, split, strict=True)
            )
            for split in splits(more, len(wanted))
        )
        if at_a_billionth(best) >= confidence:
            return pieces + more, best
    raise AssertionError
