"""Coins to start for an order: by type, whatever line they become rings of."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from pricing.coin import Coin
from pricing.errors import InvalidInput
from pricing.estimate import Prepared
from pricing.set_starts import Wanted, coins_for_set


@dataclass(frozen=True, slots=True, kw_only=True)
class CoinsNeeded:
    """Coins of one type for a whole order.

    Attributes:
        coin: the type.
        pieces: good pieces wanted of it, on all lines [pieces].
        coins: coins to start, so that with those of the other types the whole
            order comes out good at its confidence [coins].
    """

    coin: Coin
    pieces: int
    coins: int


def confidence_of(lines: Sequence[Prepared]) -> Decimal:
    """The highest confidence that is asked for [fraction].

    Own coins, which cannot be replaced, ask for none where there are others.
    """
    asked = [x.wish.confidence for x in lines if x.wish.own_coin is None]
    return max(asked or (line.wish.confidence for line in lines))


def coins_needed(
    lines: Sequence[Prepared], *, confidence: Decimal
) -> tuple[CoinsNeeded, ...]:
    """Coins of each type that is bought, the fewest in all that will do.

    A coin of a type can replace another of it on any line. Where lines of a type
    are judged with different prudence, the most careful chance counts for all.

    Args:
        lines: of the order.
        confidence: chance that the coins are enough for all lines [fraction].

    Raises:
        InvalidInput: more coins would be needed than can be counted.
    """
    wanted: dict[Coin, Wanted] = {}
    for line in lines:
        if line.wish.own_coin is None:
            new = Wanted(
                good=line.wish.quantity,
                chance_good=line.sheet.ingredients.spoilage.chance_good,
            )
            old = wanted.get(line.coin, new)
            wanted[line.coin] = new if old is new else _together(old, new)
    try:
        coins = coins_for_set(tuple(wanted.values()), confidence=confidence)
    except InvalidInput as error:
        raise InvalidInput(error.message, path=("lines",)) from error
    return tuple(
        CoinsNeeded(coin=coin, pieces=each.good, coins=count)
        for (coin, each), count in zip(wanted.items(), coins, strict=True)
    )


def _together(one: Wanted, other: Wanted) -> Wanted:
    return Wanted(
        good=one.good + other.good,
        chance_good=min(one.chance_good, other.chance_good),
    )
