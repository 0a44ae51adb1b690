"""What somebody wants a price for: a ring, how many, where and how it is sold."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from pricing.errors import InvalidInput, Path
from pricing.money import ZERO
from pricing.ring_size import RingSize

MOST_PIECES = 1000
INCLUDES = ("risk",)


@dataclass(frozen=True, slots=True, kw_only=True)
class OwnCoin:
    """A coin the customer brings; ``compensation`` is owed if it is lost [currency].

    Raises:
        InvalidInput: a negative compensation.
    """

    compensation: Decimal = ZERO

    def __post_init__(self) -> None:
        _refuse_negative(self.compensation, ("own_coin", "compensation"))


def _refuse_negative(amount: Decimal, path: Path) -> None:
    if amount < 0:
        raise InvalidInput(
            f"{path[-1]} {amount} is negative; give an amount of 0 or more", path=path
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Wish:
    """One kind of ring and how it is to be sold.

    Attributes:
        size: finger size.
        quantity: pieces of this ring in the order [count], 1 to 1000.
        channel, policy: keys in the price book; None takes the book's first.
        extras: keys of extras for each piece.
        own_coin: set when the customer brings the coin.
        hole_mm, band_width_mm: asked for [mm]; at most one of them.
        confidence: for the number of coins to start, between 0 and 1.
        coin_paid: what was really paid for the coin of a ready-made piece
            [currency]; shows the margin on that beside the one on replacement.
        include: further results, of ``INCLUDES``.

    Raises:
        InvalidInput: a figure out of its range.
    """

    size: RingSize
    quantity: int = 1
    channel: str | None = None
    policy: str | None = None
    extras: tuple[str, ...] = ()
    own_coin: OwnCoin | None = None
    hole_mm: Decimal | None = None
    band_width_mm: Decimal | None = None
    confidence: Decimal = Decimal("0.95")
    coin_paid: Decimal | None = None
    include: frozenset[str] = frozenset()

    def __post_init__(self) -> None:
        if not 1 <= self.quantity <= MOST_PIECES:
            raise InvalidInput(
                f"quantity {self.quantity} is out of range; "
                f"ask for 1 to {MOST_PIECES} pieces",
                path=("quantity",),
            )
        if not 0 < self.confidence < 1:
            raise InvalidInput(
                f"confidence {self.confidence} is not between 0 and 1; "
                "0.95 means 95 times in 100",
                path=("confidence",),
            )
        if self.coin_paid is not None:
            _refuse_negative(self.coin_paid, ("coin_paid",))
        self._refuse_not_positive()

    def _refuse_not_positive(self) -> None:
        for name in ("hole_mm", "band_width_mm"):
            value = getattr(self, name)
            if value is not None and value <= 0:
                raise InvalidInput(
                    f"{name} {value} is not a length; give millimetres above 0",
                    path=(name,),
                )
