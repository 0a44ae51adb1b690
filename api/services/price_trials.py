"""A price book tried before it is kept: what it would do to some rings."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from decimal import Decimal

from api.ports import Listing, ListingFilter, NotFound, SpotUnavailable
from api.services.coins import Coins
from api.services.listings.pages import listing_page
from api.services.price_book import PriceBooks
from api.services.snapshots import Snapshots
from api.services.spot.spot_prices import SpotPrices
from pricing.coin import Coin
from pricing.errors import PricingError
from pricing.estimate import prepare
from pricing.money import trimmed
from pricing.price_book import Change, PriceBook, diff
from pricing.price_book.reading import read_price_book
from pricing.ring_size import ring_size
from pricing.spot import Spot
from pricing.wish import Wish

RINGS = 3
"""Rings that are priced by both books [count]."""
LISTINGS_LOOKED_AT = 30
"""Newest listings that the rings are taken from [count]."""
USUAL = (
    ("us_dollar_1921_1935", "10"),
    ("at_50s_1959_1973", "8"),
    ("gb_halfcrown_1920_1946", "6"),
)
"""Coins and sizes [US size] of a workshop without listings."""

_NO_SPOT = "there is no spot price in force"


@dataclass(frozen=True, slots=True, kw_only=True)
class SampleRing:
    """A ring by which books are compared.

    Attributes:
        title: what it is called: its listing's title, or its coin's name.
        sku: of the listing; '' for one of the usual coins.
    """

    title: str
    sku: str = ""
    coin: Coin
    wish: Wish


@dataclass(frozen=True, slots=True, kw_only=True)
class Figures:
    """What a ring comes to by one book.

    Attributes:
        cost, price: of a piece [``currency``]; None where it has none.
        margin_rate: margin over net, None where there is none.
        why_not: why it has no price; '' where it has one.
    """

    currency: str
    cost: Decimal | None = None
    price: Decimal | None = None
    margin_rate: Decimal | None = None
    why_not: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class TriedRing:
    """A ring by the book in force and by the one that is tried."""

    ring: SampleRing
    before: Figures | None
    after: Figures

    @property
    def step(self) -> Decimal | None:
        """By how much its price would change [currency]; None where that is unknown."""
        old, new = self.before, self.after
        if old is None or old.price is None or new.price is None:
            return None
        return new.price - old.price if old.currency == new.currency else None


@dataclass(frozen=True, slots=True, kw_only=True)
class Trial:
    """What a book would change.

    Attributes:
        version: of the book in force [count]; 0 where there is none.
    """

    version: int
    changes: tuple[Change, ...]
    rings: tuple[TriedRing, ...]


class PriceTrials:
    """Tries price books; stores nothing."""

    def __init__(
        self,
        snapshots: Snapshots,
        *,
        books: PriceBooks,
        coins: Coins,
        spots: SpotPrices,
    ) -> None:
        self._snapshots = snapshots
        self._books = books
        self._coins = coins
        self._spots = spots

    def tried(self, document: Mapping[str, object]) -> Trial:
        """What a whole book would do at the spot in force.

        Raises:
            BookRefused: something is wrong with it, every fault by its path.
        """
        new = read_price_book(document)
        with self._snapshots.held():
            old, rings = self._old(), self._rings()
            before = self._figures(rings, old) if old else [None] * len(rings)
            after = self._figures(rings, new)
            return Trial(
                version=old.version if old else 0,
                changes=diff(old, new) if old else (),
                rings=tuple(
                    TriedRing(ring=ring, before=was, after=is_now)
                    for ring, was, is_now in zip(rings, before, after, strict=True)
                ),
            )

    def _old(self) -> PriceBook | None:
        try:
            return self._books.current()
        except (NotFound, PricingError):
            return None

    def _figures(self, rings: Iterable[SampleRing], book: PriceBook) -> list[Figures]:
        spot = spot_for(self._spots, book)
        return [figures_of(book, ring.coin, ring.wish, spot) for ring in rings]

    def _rings(self) -> list[SampleRing]:
        page = listing_page(
            self._snapshots.storage,
            ListingFilter(),
            limit=LISTINGS_LOOKED_AT,
            past=None,
            newer=False,
        )
        listed = _various(page.listings)[:RINGS]
        found = [ring for one in listed if (ring := self._listed(one))]
        return found or [self._usual(key, size) for key, size in USUAL]

    def _listed(self, listing: Listing) -> SampleRing | None:
        try:
            coin = self._coins.get(listing.coin).coin
        except NotFound:
            return None
        wish = Wish(
            size=ring_size("us", trimmed(listing.bands[0].size_from)),
            channel=listing.channel,
            policy=listing.policy,
            extras=listing.extras,
        )
        return SampleRing(title=listing.title, sku=listing.sku, coin=coin, wish=wish)

    def _usual(self, key: str, size: str) -> SampleRing:
        coin = self._coins.get(key).coin
        return SampleRing(
            title=coin.label, coin=coin, wish=Wish(size=ring_size("us", size))
        )


def spot_for(spots: SpotPrices, book: PriceBook) -> Spot | None:
    """The spot price in force in the currency of a book; None where there is none."""
    try:
        return spots.quoted(book).spot
    except SpotUnavailable:
        return None


def figures_of(book: PriceBook, coin: Coin, wish: Wish, spot: Spot | None) -> Figures:
    """What a ring comes to by a book, at a spot price where there is one."""
    code = book.currency.code
    try:
        found = prepare(book, coin, wish)
        if spot is None and found.needs_spot:
            return Figures(currency=code, why_not=_NO_SPOT)
        sale = found.price_at(spot).sale
        cost = found.cost_at(spot).per_piece
    except PricingError as error:
        return Figures(currency=code, why_not=error.message)
    return Figures(
        currency=code, cost=cost, price=sale.unit, margin_rate=sale.margin_rate
    )


def _various(listings: Iterable[Listing]) -> list[Listing]:
    """Those that differ most first: by coin, then by how they are sold."""
    seen: set[object] = set()
    rank: dict[str, int] = {}
    for one in listings:
        sold = (one.channel, one.policy)
        rank[one.sku] = (one.coin in seen) + (sold in seen)
        seen |= {one.coin, sold}
    return sorted(listings, key=lambda one: rank[one.sku])
