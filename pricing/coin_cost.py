"""What one coin costs to replace, as a line in the spot price.

Pricing uses replacement cost: the next coin has to be bought at today's spot.
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from pricing import money
from pricing.coin import Coin
from pricing.errors import InvalidInput
from pricing.metal_line import MetalLine, greater_of
from pricing.price_book import Basis, CoinBuying
from pricing.spot import Spot
from pricing.units import troy_ounces


@dataclass(frozen=True, slots=True, kw_only=True)
class CoinCost:
    """The cost of one coin.

    Attributes:
        basis: how it is bought.
        fine_ozt: fine metal after wear [ozt].
        premium: over melt, as a share.
        extra: on top of melt [currency].
        paid: the fixed amount [currency], or None.
        line: cost against spot [currency].
        melt_words: how the fine metal follows from the coin.
    """

    basis: Basis
    fine_ozt: Decimal
    premium: Decimal
    extra: Decimal
    paid: Decimal | None
    line: MetalLine
    melt_words: str

    def at(self, spot: Spot | None) -> Decimal:
        """Cost of one coin at a spot [currency/ozt], unrounded [currency]."""
        return self.line.at(spot.price if spot else money.ZERO)

    def how(self, spot: Spot | None) -> str:
        """The arithmetic in one line, at a spot [currency/ozt]."""
        paid = f"{self.paid} paid"
        if self.basis == "paid" or spot is None:
            return "paid"
        melt = f"{self.melt_words} × {spot.price}"
        if self.premium:
            sign = "+" if self.premium > 0 else "−"
            melt += f" {sign} {money.percent(abs(self.premium))}"
        melt += f" + {self.extra}" if self.extra else ""
        return melt if self.basis == "melt" else f"the greater of {paid} and ({melt})"


def coin_cost(coin: Coin, buying: CoinBuying, *, mass_g: Decimal) -> CoinCost:
    """The replacement cost of one coin; the coin's own terms come before the book's.

    melt = fine ozt × spot × (1 + premium) + extra; paid = a fixed amount;
    greater_of = whichever is more.

    Args:
        coin: the coin.
        buying: the price book's terms.
        mass_g: mass after wear [g].

    Raises:
        InvalidInput: a basis that needs what was paid, or a metal price, and
            has none.
    """
    own_paid = coin.paid if coin.paid is not None else buying.paid
    basis = _basis(coin, buying)
    if basis != "melt" and own_paid is None:
        raise InvalidInput(
            f"{coin.label} is bought on the basis '{basis}' but no amount is given; "
            "set 'paid' for the coin or in the price book",
            path=("coin", "paid"),
        )
    fine = troy_ounces(money.mass_g(mass_g * coin.fineness))
    premium = buying.premium if coin.premium is None else coin.premium
    extra = buying.extra if coin.extra is None else coin.extra
    melt = MetalLine.proportional(fine * (1 + premium)) + MetalLine.constant(extra)
    return CoinCost(
        basis=basis,
        fine_ozt=fine,
        premium=premium,
        extra=extra,
        paid=own_paid,
        line=_line(basis, melt, own_paid),
        melt_words=(
            f"{money.trimmed(mass_g)} g × {fineness_words(coin)} ÷ 31.1035 = "
            f"{money.shown(fine, money.MASS_STEP_G)} ozt"
        ),
    )


def fineness_words(coin: Coin) -> str:
    """Fineness the way it is stamped, three decimals at least: 0.900, 0.9999."""
    whole, _, decimals = format(coin.fineness, "f").partition(".")
    return f"{whole}.{decimals.ljust(3, '0')}"


def _basis(coin: Coin, buying: CoinBuying) -> Basis:
    if coin.metal == "base":
        if coin.basis in {"melt", "greater_of"}:
            raise InvalidInput(
                f"{coin.label} has no metal price, so it cannot be bought on the "
                f"basis '{coin.basis}'; use 'paid'",
                path=("coin", "basis"),
            )
        return "paid"
    if coin.basis is not None:
        return coin.basis
    # An amount given for this very coin means it is bought for that amount, unless
    # the book compares what is paid with melt anyway.
    if coin.paid is not None and buying.basis == "melt":
        return "paid"
    return buying.basis


def _line(basis: Basis, melt: MetalLine, paid: Decimal | None) -> MetalLine:
    if basis == "melt" or paid is None:
        return melt
    return MetalLine.constant(paid) if basis == "paid" else greater_of(paid, melt)
