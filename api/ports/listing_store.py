"""Where listings are kept."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from datetime import datetime
from decimal import Decimal
from typing import Protocol

from api.ports.listings import (
    CaseInUse,
    Listing,
    ListingFilter,
    Place,
    PriceMove,
    Spec,
    Why,
)


class ListingStore(Protocol):
    """Listings with their prices in force, and how these changed.

    Every change belongs to a count of the counter ``listings``: the caller bumps it
    in the same transaction and hands the new count over as ``changed_rev`` or
    ``rev``. Every change of a price is written to the history.
    """

    def add(self, new: Sequence[Listing], *, why: Why = "created") -> None:
        """Store new listings, many in a few statements.

        ``revision``, ``seq`` and the ids and runs of bands are given by the storage.

        Raises:
            Conflict: a sku is in use.
        """
        ...

    def replace(self, new: Listing, *, expected: int, why: Why = "edited") -> bool:
        """Whether the listing of this sku was at revision ``expected`` and is replaced.

        Its ``revision`` becomes one more; ``seq`` and ``created_at`` stay. A band of
        the same sizes keeps its id. Where spec and price in force stay too it also
        keeps its run, which can then still be undone; otherwise it is an entered
        price from here on.
        """
        ...

    def replace_all(self, new: Sequence[Listing], *, why: Why = "imported") -> None:
        """Replace the listings of these skus as `replace` does, in a few statements.

        Each has the ``revision`` that it was read at.

        Raises:
            Conflict: one is not there at that revision; nothing can be done in this
                unit any more.
        """
        ...

    def remove(
        self, sku: str, *, expected: int, rev: int, at: datetime, by: str
    ) -> bool:
        """Whether the listing was there at revision ``expected`` and is gone.

        Its row stays for the price history, its bands go, its sku is free again.
        """
        ...

    def get(self, sku: str) -> Listing | None:
        """The listing that is there under this sku."""
        ...

    def find(self, skus: Collection[str]) -> Mapping[str, Listing]:
        """Those of the skus that are there, in a few statements."""
        ...

    def page(
        self,
        wanted: ListingFilter,
        *,
        limit: int,
        past: int | None,
        newer: bool = False,
    ) -> tuple[Listing, ...]:
        """At most ``limit`` listings, newest first, past a ``seq``, as for quotes."""
        ...

    def count(self, wanted: ListingFilter) -> int:
        """How many there are [count]."""
        ...

    def each(self) -> Iterator[Listing]:
        """Every listing by sku, a few at a time; to be used up within the unit."""
        ...

    def specs_in_use(self) -> tuple[Spec, ...]:
        """Every spec that a band has, in no order."""
        ...

    def cases_in_use(
        self, skus: Collection[str] | None = None
    ) -> tuple[CaseInUse, ...]:
        """Every pair of spec and price in force, of all listings or of some.

        By spec id and price. One statement, or one for some hundred skus.
        """
        ...

    def places(
        self, spec: int, price: Decimal, *, limit: int, past: int = 0
    ) -> tuple[tuple[int, Place], ...]:
        """Bands of one case with their ids, by id from above ``past`` on."""
        ...

    def changed_since(self, rev: int, *, limit: int) -> tuple[str, ...]:
        """Skus of listings added, edited or removed after a count, in order."""
        ...

    def history(
        self, sku: str, *, limit: int, past: int | None
    ) -> tuple[PriceMove, ...]:
        """How the prices under a sku changed, newest first.

        Of every listing that has or had the sku. ``limit`` counts moments: all that
        was changed at once comes together, by size. ``past`` is a ``rev``, older
        ones follow; None begins at the newest.
        """
        ...
