"""The price of a published ring in a size: its band's, times how many.

Prices come in the steps of the bands, and are never worked out here, so that asking
for many sizes and quantities tells nothing of how they come about.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from decimal import Decimal
from functools import lru_cache

from api.ports import Clock, SizeNotOffered
from api.services.listings.document import in_unit
from api.services.snapshot import SILVER
from api.services.snapshots import Snapshots
from api.services.spot.choice import in_force
from api.services.window.listings import (
    Availability,
    Offered,
    WindowBand,
    WindowCaution,
    WindowListing,
    WindowListings,
)
from pricing import money
from pricing.money import ZERO
from pricing.ring_size import RingSize
from pricing.sale import CostFigures, SaleTerms, order_of

HOLDS_FOR = timedelta(minutes=15)
"""How long a price that is shown is good for, where nothing expires sooner."""
MOST_PIECES = 100
"""Pieces that a storefront may ask for at once."""
MOST_KEPT = 1024
"""Prices that are held ready [count]."""

_Asked = tuple[str, RingSize, int]
_FREE = CostFigures(per_piece=ZERO, labour=ZERO, attended_minutes=ZERO, by_kind={})


@dataclass(frozen=True, slots=True, kw_only=True)
class WindowSize:
    """A finger size as it was asked for."""

    system: str
    size: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Charge:
    """What some pieces come to [currency], without shipping.

    Attributes:
        unit_price: of one piece as displayed.
        total: of all pieces as displayed.
        tax: in the total, or on top of it where displayed prices leave it out.
    """

    unit_price: Decimal
    total: Decimal
    tax: Decimal


@dataclass(frozen=True, slots=True, kw_only=True, weakref_slot=True)
class WindowPrice:
    """The price of a ring as anybody may see it; amounts in ``currency``.

    Attributes:
        tax_included: whether ``tax`` is in ``total``, or comes on top.
        valid_until: until when it is good, if nothing is changed meanwhile; only a
            held price is a promise.
    """

    sku: str
    title: str
    size: WindowSize
    quantity: int
    unit_price: Decimal
    total: Decimal
    tax: Decimal
    tax_included: bool
    currency: str
    valid_until: datetime
    availability: Availability
    cautions: tuple[WindowCaution, ...]


class WindowPrices:
    """Prices of published rings."""

    def __init__(
        self, snapshots: Snapshots, clock: Clock, *, listings: WindowListings
    ) -> None:
        self._snapshots = snapshots
        self._clock = clock
        self._listings = listings
        # Shops ask for the same rings again; an answer stands for a minute at most.
        self._kept: dict[_Asked, tuple[Offered, WindowPrice]] = {}

    def price(self, sku: str, size: RingSize, quantity: int = 1) -> WindowPrice:
        """The price of some pieces in a size.

        Args:
            sku: a published listing.
            size: finger size, in whatever system.
            quantity: pieces [count].

        Raises:
            NotFound: there is no such listing, or it is not published.
            SizeNotOffered: no band holds the size.
        """
        with self._snapshots.held():
            offered, until = self._listings.offered(sku), self.valid_until()
        asked = (sku, size, quantity)
        of, known = self._kept.get(asked, (None, None))
        if known is not None and of is offered and known.valid_until == until:
            return known
        price = _priced(offered, size, quantity, until)
        if len(self._kept) >= MOST_KEPT:
            self._kept.clear()
        self._kept[asked] = offered, price
        return price

    def valid_until(self) -> datetime:
        """Until when the prices of now are good, to the minute.

        Never later than the price of silver that a person gave an end to: from then
        on another one counts.
        """
        now = self._clock.now()
        until = now + HOLDS_FOR
        spot = in_force(self._snapshots.take().spots.get(SILVER, ()), now)
        if spot is not None and spot.expires_at is not None:
            until = min(until, spot.expires_at)
        minute = until.replace(second=0, microsecond=0)
        return minute if minute > now else until


def _priced(
    offered: Offered, size: RingSize, quantity: int, until: datetime
) -> WindowPrice:
    charge, shown = charged(offered, size, quantity), offered.shown
    return WindowPrice(
        sku=shown.sku,
        title=shown.title,
        size=WindowSize(system=size.system, size=size.given),
        quantity=quantity,
        unit_price=charge.unit_price,
        total=charge.total,
        tax=charge.tax,
        tax_included=shown.tax_included,
        currency=shown.currency,
        valid_until=until,
        availability=shown.availability,
        cautions=shown.cautions,
    )


def charged(offered: Offered, size: RingSize, quantity: int) -> Charge:
    """What some pieces in a size come to. Raises SizeNotOffered."""
    band = band_of(offered.shown, size)
    terms = SaleTerms(channel=offered.channel, currency=offered.unit, quantity=quantity)
    with money.arithmetic():
        taken = order_of(terms, _FREE).taken(band.price)
    return Charge(
        unit_price=band.price,
        total=in_unit(taken.goods, offered.unit),
        tax=in_unit(taken.tax, offered.unit),
    )


def band_of(listing: WindowListing, size: RingSize) -> WindowBand:
    """The band that holds a size, at its nearest quarter [US number].

    Raises:
        SizeNotOffered: there is none.
    """
    us = _us_number(size)
    for band in listing.bands:
        if band.size_from <= us <= band.size_to:
            return band
    offered = ", ".join(band.sizes for band in listing.bands)
    raise SizeNotOffered(
        f"{size.label} is not offered; this ring comes in {offered}",
        path=("size", "size"),
    )


@lru_cache(maxsize=1024)
def _us_number(size: RingSize) -> Decimal:
    return Decimal(size.marks()["us"] or -1)  # there is a quarter near every size
