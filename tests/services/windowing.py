"""A workshop with a storefront, and short ways to put things into it."""

from __future__ import annotations

from api.services.window.holds import WindowHolds
from api.services.window.listings import WindowListings
from api.services.window.prices import WindowPrices
from api.services.window.signing import Signing
from pricing.ring_size import ring_size
from tests.services.selling import Seller


class Storefront(Seller):
    """What a window key sees of a workshop."""

    def __init__(self, promises):
        super().__init__(promises)
        self.window = WindowListings(
            promises.snapshots, books=promises.books, coins=promises.coins
        )
        self.window_prices = WindowPrices(
            promises.snapshots, promises.clock, listings=self.window
        )

        self.signing = Signing(promises.snapshots, promises.clock)
        self.holds = WindowHolds(
            promises.snapshots,
            promises.clock,
            listings=self.window,
            making=promises.quotes.making,
            signing=self.signing,
        )

    def publish(self, *bands, **members):
        """A published listing in the shop."""
        return self.create(*bands, **({"published": True} | members))

    def price(self, size="8", *, system="us", sku="ring-1", quantity=1):
        """The price of a ring in a size."""
        return self.window_prices.price(sku, ring_size(system, size), quantity)

    def hold(self, size="8", *, system="us", sku="ring-1", quantity=1):
        """A held price, as it is stored."""
        return self.holds.hold(sku, ring_size(system, size), quantity)
