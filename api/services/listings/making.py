"""From what is asked of a listing to the listing: checked by the book, and priced."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from datetime import datetime
from decimal import Decimal
from typing import cast

from api.ports import Band, Listing, ListingKind, Spec
from api.services.actor import actor
from api.services.coins import Coins
from api.services.ground import coin_of, refuse_stale
from api.services.listings.terms import BandAsk, ListingAsk, shape_errors
from api.services.repricings.compiled_bands import CompiledBands
from api.services.spot.choice import Quoted
from api.services.spot.spot_prices import SpotPrices
from pricing import money
from pricing.errors import PricingError, UnknownKey
from pricing.price_book import PriceBook

_SAID = (
    "title",
    "kind",
    "coin",
    "channel",
    "policy",
    "extras",
    "locked",
    "published",
    "actual_cost",
)
"""What a listing says beside its sku and its bands."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Made:
    """What becomes of what is asked.

    Attributes:
        listing: as it is to be; None where anything is wrong.
        members: what differs from the listing that was there, bands apart.
        moved: whether its bands or their prices differ.
        errors: everything that is wrong.
    """

    listing: Listing | None = None
    members: tuple[str, ...] = ()
    moved: bool = False
    errors: tuple[PricingError, ...] = ()

    @property
    def changed(self) -> bool:
        """Whether anything differs."""
        return self.moved or bool(self.members)


class ListingMaking:
    """Checks and prices listings by one state of the book, the coins and the spot.

    What a band's price follows from is worked out once, however many bands share it.
    """

    def __init__(
        self,
        book: PriceBook,
        *,
        coins: Coins,
        spots: SpotPrices,
        compiled: CompiledBands,
    ) -> None:
        self.book = book
        self._coins = coins
        self._spots = spots
        self._compiled = compiled
        self._prices: dict[Spec, Decimal] = {}
        self._quoted: Quoted | None = None

    def made(self, ask: ListingAsk, old: Listing | None, *, at: datetime) -> Made:
        """The listing that is asked for.

        A listing that stays as it is needs no keys of today's book.

        Args:
            ask: what is asked for.
            old: the listing that is there.
            at: when.

        Raises:
            SpotUnavailable: a price has to be worked out, and no spot is in force.
            StaleSpot: the one in force is older than the policy allows.
        """
        errors: list[PricingError] = list(shape_errors(ask, self.book.currency))
        if errors:
            return Made(errors=tuple(errors))
        asked = self._with_kept_prices(ask, old)
        if _as_it_is(asked, old):
            return Made(listing=old)
        errors += self._key_errors(asked)
        if not errors:
            asked, errors = self._priced(asked)
        if errors:
            return Made(errors=tuple(errors))
        new = self._listing(asked, old, at)
        return Made(
            listing=new,
            members=_differences(new, old),
            moved=old is None or _prices(new) != _prices(old),
        )

    def _with_kept_prices(self, ask: ListingAsk, old: Listing | None) -> ListingAsk:
        """What is asked, with the prices that bands of equal spec have."""
        held = {old.spec(band): band.price for band in old.bands} if old else {}
        bands = (
            replace(band, price=held.get(_spec(ask, band)))
            if band.price is None
            else band
            for band in ask.bands
        )
        return replace(ask, title=ask.title.strip(), bands=tuple(bands))

    def _key_errors(self, ask: ListingAsk) -> Iterator[UnknownKey]:
        looks: list[tuple[tuple[str | int, ...], Callable[[str], object], str]] = [
            (("coin",), lambda key: coin_of(self._coins, key), ask.coin),
            (("channel",), self.book.channel, ask.channel),
            (("policy",), self.book.policy, ask.policy),
        ]
        looks += [
            (("extras", i), self.book.extra, key) for i, key in enumerate(ask.extras)
        ]
        for path, look, key in looks:
            try:
                look(key)
            except UnknownKey as error:
                error.path = path
                yield error

    def _priced(self, ask: ListingAsk) -> tuple[ListingAsk, list[PricingError]]:
        bands, errors = [], []
        for place, band in enumerate(ask.bands):
            try:
                price = self._price(ask, band)
            except PricingError as error:
                error.path = ("bands", place)
                errors.append(error)
            else:
                bands.append(replace(band, price=price))
        return replace(ask, bands=tuple(bands)), errors

    def _price(self, ask: ListingAsk, band: BandAsk) -> Decimal:
        if band.price is not None:
            return money.amount(band.price, self.book.currency)
        spec = _spec(ask, band)
        if spec not in self._prices:
            self._prices[spec] = self._worked_out(spec)
        return self._prices[spec]

    def _worked_out(self, spec: Spec) -> Decimal:
        band = self._compiled.of(self.book, spec)
        if not band.needs_spot:
            return band.price_at(None).unit
        if self._quoted is None:
            self._quoted = self._spots.quoted(self.book)
        spot, market = self._quoted
        refuse_stale(band.policy, spot, market)
        return band.price_at(spot).unit

    @staticmethod
    def _listing(ask: ListingAsk, old: Listing | None, at: datetime) -> Listing:
        return Listing(
            seq=old.seq if old else 0,
            sku=ask.sku,
            title=ask.title,
            kind=cast("ListingKind", ask.kind),
            coin=ask.coin,
            channel=ask.channel,
            policy=ask.policy,
            extras=ask.extras,
            locked=ask.locked,
            published=ask.published,
            actual_cost=ask.actual_cost,
            bands=tuple(
                Band(size_from=size_from, size_to=size_to, price=price)
                for size_from, size_to, price in _prices(ask)
            ),
            revision=old.revision if old else 1,
            created_at=old.created_at if old else at,
            changed_at=at,
            changed_by=actor().by,
        )


def _spec(ask: ListingAsk, band: BandAsk) -> Spec:
    return Spec(
        coin=ask.coin,
        size_from=band.size_from,
        size_to=band.size_to,
        channel=ask.channel,
        policy=ask.policy,
        extras=ask.extras,
    )


def _as_it_is(ask: ListingAsk, old: Listing | None) -> bool:
    if old is None or any(getattr(ask, n) != getattr(old, n) for n in _SAID):
        return False
    return _prices(ask) == _prices(old)


def _differences(new: Listing, old: Listing | None) -> tuple[str, ...]:
    if old is None:
        return ()
    return tuple(name for name in _SAID if getattr(new, name) != getattr(old, name))


def _prices(
    listing: Listing | ListingAsk,
) -> list[tuple[Decimal, Decimal, Decimal]]:
    """Sizes and prices by size; a price that is not known is 0."""
    return sorted(
        (band.size_from, band.size_to, band.price or money.ZERO)
        for band in listing.bands
    )
