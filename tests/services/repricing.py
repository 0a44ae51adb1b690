"""A shop whose listings follow the metal: a book that lets every decision happen."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

from api.ports import Band, BandFilter, Listing
from api.services.repricings.compiled_bands import CompiledBands
from api.services.repricings.pace import Pace
from api.services.repricings.repricings import Repricings
from tests.services.promising import BOOK, COIN, Promises

POLICIES = [
    {
        "key": "retail",
        "target_margin": "0.35",
        "floor_margin": "0.20",
        "rounding": {"step": "5.00", "offset": "-0.05"},
        "dead_band": {"amount": "3.00", "share": "0.02"},
        "max_step": "0.15",
    },
    {
        "key": "trade",
        "target_margin": "0.20",
        "floor_margin": "0.10",
        "allow_lowering": False,
    },
]
SHOP_BOOK = BOOK | {"policies": POLICIES}
NOTHING = {
    "hold": 0,
    "raise": 0,
    "lower": 0,
    "review": 0,
    "locked": 0,
    "blocked": 0,
}


def no_sleep(_):
    """Nobody waits in a test."""


IN_CHUNKS = Pace(at_once=0, size=10_000, pause_s=0.02, sleep=no_sleep)


class Shop(Promises):
    """The services of a workshop with a book and a spot price, and its listings."""

    def __init__(self, storage, clock, **pace):
        super().__init__(storage, clock)
        self.compiled = CompiledBands(self.coins)
        self.paced(**pace)

    def paced(self, **pace):
        """From here on at another pace than in chunks, however few the bands are."""
        self.repricings = Repricings(
            self.snapshots,
            self.clock,
            books=self.books,
            spots=self.spots,
            compiled=self.compiled,
            pace=replace(IN_CHUNKS, **pace),
        )
        return self

    def open(self, spot="27.50"):
        """The workshop, ready to sell."""
        self.books.replace(SHOP_BOOK, expected=None)
        self.spots.enter("XAG", Decimal(spot), "EUR")
        return self

    def silver(self, price):
        """Silver has moved."""
        self.spots.enter("XAG", Decimal(price), "EUR")

    def listing(self, sku, *bands, **more):
        """A listing that is not stored; a band is (from, to, price)."""
        now = self.clock.now()
        members = {
            "title": f"Ring {sku}",
            "kind": "made_to_order",
            "coin": COIN,
            "channel": "own_shop",
            "policy": "retail",
            "created_at": now,
            "changed_at": now,
            "changed_by": "maker",
        }
        made = tuple(
            Band(size_from=Decimal(a), size_to=Decimal(b), price=Decimal(price))
            for a, b, price in bands
        )
        return Listing(sku=sku, bands=made, **(members | more))

    def list(self, *listings):
        """Store new listings."""

        def add(unit):
            rev = unit.revisions.bump("listings")
            unit.listings.add([replace(each, changed_rev=rev) for each in listings])

        self.storage.write(add)

    def edit(self, sku, **members):
        """Change a listing by hand."""

        def change(unit):
            old = unit.listings.get(sku)
            rev = unit.revisions.bump("listings")
            new = replace(old, changed_rev=rev, **members)
            return unit.listings.replace(new, expected=old.revision)

        assert self.storage.write(change)

    def reprice_by_hand(self, sku, price):
        """Give the first band of a listing another price."""
        bands = self.get(sku).bands
        first = replace(bands[0], price=Decimal(price))
        self.edit(sku, bands=(first, *bands[1:]))

    def remove(self, sku):
        """Take a listing away."""

        def remove(unit):
            old, now = unit.listings.get(sku), self.clock.now()
            rev = unit.revisions.bump("listings")
            return unit.listings.remove(
                sku, expected=old.revision, rev=rev, at=now, by="maker"
            )

        assert self.storage.write(remove)

    def get(self, sku):
        """The listing as it is."""
        return self.storage.read(lambda unit: unit.listings.get(sku))

    def prices(self):
        """The prices in force, by sku and smallest size."""
        return self.storage.read(
            lambda unit: {
                (each.sku, band.size_from): band.price
                for each in unit.listings.each()
                for band in each.bands
            }
        )

    def bands(self, run, **wanted):
        """All the bands of a run."""
        found, past = [], None
        while True:
            page = self.repricings.bands(
                run, BandFilter(**wanted), limit=100, past=past
            )
            found += page.bands
            if not page.after:
                return found
            past = (page.bands[-1].sku, page.bands[-1].size_from)

    def applied(self, run, include=()):
        """A run, applied."""
        return self.repricings.apply(
            run.id, expected=run.version, include=tuple(include)
        )

    def asked(self, coin=COIN, spot="27.50", policy="retail", size=("5", "5.5")):
        """What a band has to cost."""
        listing = self.listing("x", (*size, "1"), coin=coin, policy=policy)
        band = self.compiled.of(self.books.current(), listing.spec(listing.bands[0]))
        ground = self.repricings._grounds.at(Decimal(spot))
        return band.price_at(ground.spot).unit
