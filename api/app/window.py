"""The services of the shop window, wired together."""

from __future__ import annotations

from dataclasses import dataclass

from api.ports import Clock
from api.services import Coins, PriceBooks, Snapshots
from api.services.quotes.making import QuoteMaking
from api.services.window.holds import WindowHolds
from api.services.window.listings import WindowListings
from api.services.window.prices import WindowPrices
from api.services.window.signing import Signing


@dataclass(frozen=True, slots=True, kw_only=True)
class Window:
    """What a storefront is answered from."""

    listings: WindowListings
    prices: WindowPrices
    holds: WindowHolds
    signing: Signing


def make_window(
    snapshots: Snapshots,
    clock: Clock,
    *,
    books: PriceBooks,
    coins: Coins,
    making: QuoteMaking,
) -> Window:
    """The services of the window."""
    shown = WindowListings(snapshots, books=books, coins=coins)
    signing = Signing(snapshots, clock)
    return Window(
        listings=shown,
        prices=WindowPrices(snapshots, clock, listings=shown),
        holds=WindowHolds(
            snapshots, clock, listings=shown, making=making, signing=signing
        ),
        signing=signing,
    )
