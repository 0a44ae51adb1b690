"""What a storefront shows: published listings, picked member by member.

Nothing of how a price comes about is in these values, so nothing of it can slip
through. A listing that is not published, or cannot be sold as the price book and the
coins stand, is no more there than one that never was.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal
from typing import Literal, NamedTuple

from api.ports import Listing, ListingFilter, ListingKind
from api.services.coins import Coins
from api.services.ground import coin_of
from api.services.listings.document import in_unit
from api.services.listings.lookup import not_there, there
from api.services.listings.pages import listing_page
from api.services.price_book import PriceBooks
from api.services.snapshots import Snapshots
from pricing import money
from pricing.cautions import cautions_for
from pricing.coin import Coin
from pricing.errors import UnknownKey
from pricing.money import Currency
from pricing.price_book import Channel, PriceBook

Availability = Literal["made_to_order", "in_stock"]
MOST_KEPT = 5000
"""Listings that are held ready [count]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class WindowBand:
    """Sizes [US number] that share a price [currency], both ends included."""

    size_from: Decimal
    size_to: Decimal
    price: Decimal

    @property
    def sizes(self) -> str:
        """The sizes as a person says them, such as ``US 5 to 9.5`` or ``US 6``."""
        if self.size_from == self.size_to:
            return f"US {self.size_from:f}"
        return f"US {self.size_from:f} to {self.size_to:f}"


@dataclass(frozen=True, slots=True, kw_only=True)
class WindowCaution:
    """One thing a buyer should know."""

    code: str
    text: str


@dataclass(frozen=True, slots=True, kw_only=True, weakref_slot=True)
class WindowListing:
    """A published listing as anybody may see it.

    Attributes:
        sku, title: its names, in addresses and for people.
        availability: made when it is ordered, or lying ready.
        currency: of every price (ISO 4217).
        tax_included: whether the tax is in the prices already, or comes on top.
        bands: by size, with the prices in force.
        cautions: of the ring, whatever its size.
    """

    sku: str
    title: str
    availability: Availability
    currency: str
    tax_included: bool
    bands: tuple[WindowBand, ...]
    cautions: tuple[WindowCaution, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Offered:
    """A listing as it is shown, with what selling it takes; for the services alone."""

    shown: WindowListing
    listing: Listing
    channel: Channel
    unit: Currency


@dataclass(frozen=True, slots=True, kw_only=True)
class WindowPage:
    """Some listings, newest first, and whether there are more on either side.

    ``places`` are the ``seq`` of the first and the last that were looked at.
    """

    listings: tuple[WindowListing, ...]
    places: tuple[int, ...]
    older: bool
    newer: bool


class _State(NamedTuple):
    """What a shown listing follows from; equal states show the same."""

    listings: int
    price_book: int
    coins: int


class WindowListings:
    """The published listings, with the prices in force."""

    def __init__(
        self, snapshots: Snapshots, *, books: PriceBooks, coins: Coins
    ) -> None:
        self._snapshots = snapshots
        self._books = books
        self._coins = coins
        self._kept: tuple[_State | None, dict[str, Offered]] = (None, {})

    def get(self, sku: str) -> WindowListing:
        """The published listing of a sku. Raises NotFound."""
        return self.offered(sku).shown

    def offered(self, sku: str) -> Offered:
        """The same with what selling it takes. Raises NotFound.

        Kept until a listing, the price book or a coin changes.
        """
        with self._snapshots.held():
            kept = self._of_now()
            known = kept.get(sku)
            if known is None:
                known = self.read(sku)
                if len(kept) >= MOST_KEPT:
                    kept.clear()
                kept[sku] = known
            return known

    def read(self, sku: str) -> Offered:
        """The same, read anew; within a transaction, as that sees it."""
        listing = self._snapshots.read(lambda unit: there(unit, sku))
        found = self._offered(listing)
        if found is None:
            raise not_there(sku)
        return found

    def page(
        self,
        *,
        limit: int,
        past: int | None = None,
        newer: bool = False,
        text: str = "",
    ) -> WindowPage:
        """The published listings that are next to one of them, newest first.

        Args:
            limit: at most so many [count], 1 to 100.
            past: only older ones than that of this ``seq``, or with ``newer``
                younger ones; None begins at the newest, with ``newer`` at the oldest.
            newer: which way to go.
            text: found in the sku or the title, in any case.

        Raises:
            InvalidInput: the limit is out of range.
        """
        wanted = ListingFilter(published=True, text=text)
        found = listing_page(
            self._snapshots.storage, wanted, limit=limit, past=past, newer=newer
        )
        with self._snapshots.held():
            offered = [self._offered(each) for each in found.listings]
        ends = {each.seq: None for each in (*found.listings[:1], *found.listings[-1:])}
        return WindowPage(
            listings=tuple(each.shown for each in offered if each is not None),
            places=tuple(ends),
            older=found.older,
            newer=found.newer,
        )

    def _of_now(self) -> dict[str, Offered]:
        """What is kept of the present state; replaced as a whole with it."""
        now = self._snapshots.take().revisions
        state = _State(now.listings, now.price_book, now.coins)
        of, kept = self._kept
        if of != state:
            kept = {}
            self._kept = (state, kept)
        return kept

    def _offered(self, listing: Listing) -> Offered | None:
        """The listing as it is sold; None where it is not, for whatever reason."""
        if not listing.published:
            return None
        book = self._books.current()
        try:
            channel = book.channel(listing.channel)
            shown = _shown(listing, book, channel, coin_of(self._coins, listing.coin))
        except UnknownKey:  # the shop is told no more than that it is not for sale
            return None
        return Offered(
            shown=shown, listing=listing, channel=channel, unit=book.currency
        )


def _shown(
    listing: Listing, book: PriceBook, channel: Channel, coin: Coin
) -> WindowListing:
    return WindowListing(
        sku=listing.sku,
        title=listing.title,
        availability=_availability(listing.kind),
        currency=book.currency.code,
        tax_included=channel.tax.inclusive,
        bands=tuple(_bands(listing, book.currency)),
        cautions=tuple(_cautions(coin)),
    )


def _availability(kind: ListingKind) -> Availability:
    return "in_stock" if kind == "ready_made" else "made_to_order"


def _bands(listing: Listing, unit: Currency) -> Iterator[WindowBand]:
    for band in listing.bands:
        yield WindowBand(
            size_from=Decimal(money.trimmed(band.size_from)),
            size_to=Decimal(money.trimmed(band.size_to)),
            price=in_unit(band.price, unit),
        )


def _cautions(coin: Coin) -> Iterator[WindowCaution]:
    """What a buyer should know of a ring of this coin.

    The ring's mass decides on cautions for the bench only, so the coin's will do.
    """
    found = cautions_for(
        coin=coin, finished_g=coin.gross_mass_g, consumables=(), own_coin=False
    )
    for each in found:
        if each.audience == "buyer":
            yield WindowCaution(code=each.code, text=each.text)
