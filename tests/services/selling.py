"""A workshop that has things in its shop, and short ways to put them there."""

from __future__ import annotations

from decimal import Decimal

from api.ports import AuditFilter
from api.services.listings.listings import Listings
from api.services.listings.terms import BandAsk, ListingAsk
from pricing.money import trimmed
from tests.services.promising import COIN

HEADER = "sku,title,kind,coin,channel,policy,extras,locked,published,from,to,price"


def band(size_from="5", size_to="9.5", price="189.95"):
    """Sizes and their price; None has it worked out."""
    return BandAsk(
        size_from=Decimal(size_from),
        size_to=Decimal(size_to),
        price=None if price is None else Decimal(price),
    )


def asked(*bands, **members):
    """A listing as it is asked for, of one band unless others are given."""
    usual = {
        "sku": "ring-1",
        "title": "A band ring",
        "kind": "made_to_order",
        "coin": COIN,
        "channel": "own_shop",
        "policy": "retail",
    }
    return ListingAsk(**(usual | members), bands=bands or (band(),))


def row(sku="ring-1", size_from="5", size_to="9.5", price="189.95", **members):
    """One row of a file as it is exported."""
    usual = {
        "sku": sku,
        "title": "A band ring",
        "kind": "made_to_order",
        "coin": COIN,
        "channel": "own_shop",
        "policy": "retail",
        "extras": "",
        "locked": "false",
        "published": "false",
        "from": size_from,
        "to": size_to,
        "price": price,
    }
    return ",".join((usual | members).values())


def csv_file(*rows, header=HEADER, end="\r\n"):
    """A file of these rows."""
    return "".join(line + end for line in (header, *rows)).encode()


class Seller:
    """The services of a workshop with a book and a spot price, and its listings."""

    def __init__(self, promises):
        self.promises, self.clock = promises, promises.clock
        self.storage, self.snapshots = promises.storage, promises.snapshots
        self.listings = Listings(
            promises.snapshots,
            promises.clock,
            books=promises.books,
            coins=promises.coins,
            spots=promises.spots,
        )

    def create(self, *bands, **members):
        """A listing in the shop."""
        return self.listings.create(asked(*bands, **members))

    def rev(self):
        """How often listings were changed."""
        return self.storage.revisions().listings

    def prices(self, sku="ring-1"):
        """Sizes and price of each band, as short texts."""
        return [
            (trimmed(band.size_from), trimmed(band.size_to), str(band.price))
            for band in self.listings.get(sku).bands
        ]

    def export(self, **form):
        """All listings as one text."""
        pieces = []
        self.listings.export_csv(pieces.append, **form)
        return "".join(pieces)

    def noted(self):
        """The audit trail of listings, oldest first: action, subject, before, after."""
        wanted = AuditFilter(action="listing")
        found = self.storage.read(
            lambda unit: unit.audit.page(wanted, limit=1000, past=None)
        )
        return [(x.action, x.subject, x.before, x.after) for x in reversed(found)]
