"""Listings: what is in the shop, with the price of every band of sizes."""

from __future__ import annotations

from dataclasses import replace
from typing import cast

from api.ports import Clock, Listing, ListingFilter, UnitOfWork
from api.services.actor import actor
from api.services.audit import difference, note
from api.services.coins import Coins
from api.services.hooks.events import tell_listings
from api.services.listings.document import listing_document
from api.services.listings.files import ListingFiles
from api.services.listings.lookup import as_expected, there
from api.services.listings.making import ListingMaking
from api.services.listings.pages import (
    HistoryPage,
    ListingPage,
    history_page,
    listing_page,
)
from api.services.listings.standings import BandStandings
from api.services.listings.terms import ListingAsk, raise_errors
from api.services.price_book import PriceBooks
from api.services.repricings.compiled_bands import CompiledBands
from api.services.snapshots import Snapshots
from api.services.spot.spot_prices import SpotPrices
from pricing.money import Currency


class Listings(ListingFiles):
    """Everything that is in the shop. What prices there were is never forgotten."""

    def __init__(  # noqa: PLR0913 - what a listing is priced by, by name
        self,
        snapshots: Snapshots,
        clock: Clock,
        *,
        books: PriceBooks,
        coins: Coins,
        spots: SpotPrices,
        compiled: CompiledBands | None = None,
    ) -> None:
        super().__init__(snapshots, clock)
        self._books = books
        self._coins = coins
        self._spots = spots
        self._compiled = compiled or CompiledBands(coins)
        self.standings = BandStandings(
            snapshots, clock, books=books, spots=spots, compiled=self._compiled
        )

    def create(self, ask: ListingAsk) -> Listing:
        """Put something into the shop; prices left out are worked out at today's spot.

        Raises:
            NotFound: there is no price book yet.
            Conflict: its sku is in use.
            InvalidInput: figures that cannot be, or do not fit together.
            UnknownKey: a coin, channel, policy or extra that is not there.
            NotMakeable: a coin cannot become a size of a band without a price.
            NoPossiblePrice: a rule of the policy cannot be met.
            SpotUnavailable: a price has to be worked out, and no spot is in force.
            StaleSpot: the one in force is older than the policy allows.
        """
        with self._snapshots.held():
            new = self._made(self.making(), ask, None)

            def add(unit: UnitOfWork) -> Listing:
                rev = unit.revisions.bump("listings") or 0
                unit.listings.add([replace(new, changed_rev=rev)])
                told = self._told(new)
                note(unit, new.changed_at, "listing.added", new.sku, after=told)
                tell_listings(unit, new.changed_at, [(None, new)])
                return there(unit, new.sku)

            return self._snapshots.write(add)

    def work_out(self, ask: ListingAsk) -> None:
        """Work out the prices that are left out; `create` is quick then.

        To be called before a transaction that making it is part of, so that nobody
        waits for it. Raises as `create`.
        """
        with self._snapshots.held():
            self._made(self.making(), ask, None)

    def tried(self, ask: ListingAsk) -> Listing:
        """The listing that `create` or `replace` would make of it; nothing is stored.

        Raises as they do, but for the sku and the version.
        """
        with self._snapshots.held():
            read = self._snapshots.storage.read
            old = read(lambda unit: unit.listings.get(ask.sku))
            return self._made(self.making(), ask, old)

    def replace(
        self, sku: str, ask: ListingAsk, *, expected: str | None = None
    ) -> Listing:
        """Change a listing; prices left out stay, or are worked out anew.

        A price left out stays where all that it follows from does. Where nothing
        differs, nothing is written.

        Args:
            sku: the listing.
            ask: as it is to be; its own sku does not count.
            expected: the `version` it was made from; None for whatever it is.

        Raises:
            NotFound: there is no such listing, or no price book.
            PreconditionFailed: it has another version.
            InvalidInput, UnknownKey, NotMakeable: as `create`.
            NoPossiblePrice, SpotUnavailable, StaleSpot: as `create`.
        """
        named = replace(ask, sku=sku)

        def change(unit: UnitOfWork) -> Listing:
            old = as_expected(unit, sku, expected)
            new = self._made(making, named, old)
            return old if new is old else self._changed(unit, old, new)

        with self._snapshots.held():
            making, read = self.making(), self._snapshots.storage.read
            # Prices are worked out here, and not while others wait to write.
            read(
                lambda unit: self._made(making, named, as_expected(unit, sku, expected))
            )
            return self._snapshots.write(change)

    def _changed(self, unit: UnitOfWork, old: Listing, new: Listing) -> Listing:
        rev = unit.revisions.bump("listings") or 0
        unit.listings.replace(replace(new, changed_rev=rev), expected=old.revision)
        before, after = difference(self._told(old), self._told(new))
        at, sku = new.changed_at, old.sku
        note(unit, at, "listing.changed", sku, before=before, after=after)
        tell_listings(unit, at, [(old, new)])
        return there(unit, sku)

    def remove(self, sku: str, *, expected: str | None = None) -> None:
        """Take a listing out of the shop; the history of its prices stays.

        Raises:
            NotFound: there is no such listing.
            PreconditionFailed: it has another version than ``expected``.
        """

        def remove(unit: UnitOfWork) -> None:
            old, at = as_expected(unit, sku, expected), self._clock.now()
            rev = unit.revisions.bump("listings") or 0
            unit.listings.remove(
                sku, expected=old.revision, rev=rev, at=at, by=actor().by
            )
            note(unit, at, "listing.removed", sku, before=self._told(old))
            tell_listings(unit, at, [(old, None)])

        with self._snapshots.held():
            self._books.current()
            self._snapshots.write(remove)

    def get(self, sku: str) -> Listing:
        """The listing of a sku. Raises NotFound."""
        return self._snapshots.storage.read(lambda unit: there(unit, sku))

    def page(
        self,
        wanted: ListingFilter,
        *,
        limit: int,
        past: int | None = None,
        newer: bool = False,
    ) -> ListingPage:
        """The listings that are next to one of them, newest first.

        Args:
            wanted: which listings.
            limit: at most so many [count], 1 to 100.
            past: only older ones than that of this ``seq``, or with ``newer``
                younger ones; None begins at the newest, with ``newer`` at the oldest.
            newer: which way to go.

        Raises:
            InvalidInput: the limit is out of range.
        """
        return listing_page(
            self._snapshots.storage, wanted, limit=limit, past=past, newer=newer
        )

    def history(self, sku: str, *, limit: int, past: int | None = None) -> HistoryPage:
        """How the prices under a sku changed, newest first; by runs, too.

        Args:
            sku: of a listing that is there, or was.
            limit: at most so many moments at which something changed [count], 1 to
                100; all that changed at once comes together.
            past: only what came before this ``rev``; None begins at the newest.

        Raises:
            NotFound: there never was such a listing.
            InvalidInput: the limit is out of range.
        """
        return history_page(self._snapshots.storage, sku, limit=limit, past=past)

    def currency(self) -> Currency:
        """What prices are in. Raises NotFound where there is no price book."""
        return self._books.current().currency

    def making(self) -> ListingMaking:
        """Checks and prices by what is in force. Raises NotFound without a book."""
        return ListingMaking(
            self._books.current(),
            coins=self._coins,
            spots=self._spots,
            compiled=self._compiled,
        )

    def _made(
        self, making: ListingMaking, ask: ListingAsk, old: Listing | None
    ) -> Listing:
        made = making.made(ask, old, at=self._clock.now())
        raise_errors(made.errors)
        return cast("Listing", made.listing)  # there, as nothing is wrong

    def _told(self, listing: Listing) -> dict[str, object]:
        document = listing_document(listing, self.currency())
        return {name: value for name, value in document.items() if name not in _QUIET}


_QUIET = frozenset({"sku", "currency", "created_at", "changed_at", "changed_by"})
"""What the audit trail says by itself."""
