"""Listings: added, replaced, removed and read with the prices in force."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import replace
from datetime import datetime
from decimal import Decimal

from sqlalchemy import (
    ColumnElement,
    Connection,
    bindparam,
    func,
    insert,
    select,
    update,
)

from api.db.listing_mapping import listing, listing_values, spec
from api.db.listing_tables import listing_bands as bands
from api.db.listing_tables import listing_specs as specs
from api.db.listing_tables import listings
from api.db.quote_mapping import folded
from api.db.repositories.in_parts import PART, in_parts
from api.db.repositories.listing_bands import (
    add_bands,
    bands_of,
    remove_bands,
    replace_bands,
)
from api.db.repositories.listing_cases import cases_in_use, places_of_case
from api.db.repositories.pages import page_of
from api.db.repositories.price_history import history, note_moves
from api.ports import (
    CaseInUse,
    Conflict,
    Listing,
    ListingFilter,
    Place,
    PriceMove,
    Spec,
    Why,
)

LARGEST = 2**31 - 1
_THERE = listings.c.removed_at.is_(None)


class ListingRepository:
    """The listings of one transaction."""

    def __init__(self, connection: Connection) -> None:
        self._connection = connection

    def add(self, new: Sequence[Listing], *, why: Why = "created") -> None:
        """Store new listings. Raises Conflict where a sku is in use."""
        if not new:
            return
        taken = sorted(self._taken([each.sku for each in new]))
        if taken:
            raise Conflict(
                f"there is a listing '{taken[0]}' already; "
                "change that one, or use another sku"
            )
        rows = [
            {**listing_values(x), "revision": 1, "created_at": x.created_at}
            for x in new
        ]
        added = insert(listings).returning(listings.c.seq, sort_by_parameter_order=True)
        seqs = self._connection.execute(added, rows).scalars()
        stored = [replace(x, seq=seq) for x, seq in zip(new, seqs, strict=True)]
        add_bands(self._connection, stored)
        note_moves(self._connection, [(None, each) for each in stored], why=why)

    def replace(self, new: Listing, *, expected: int, why: Why = "edited") -> bool:
        """Whether the listing of this sku was at ``expected`` and is replaced."""
        old = self.get(new.sku)
        if old is None or old.revision != expected or expected >= LARGEST:
            return False
        self._replace([(old, new)], why)
        return True

    def replace_all(self, new: Sequence[Listing], *, why: Why = "imported") -> None:
        """Replace the listings of these skus, each at its ``revision``.

        Raises:
            Conflict: one is not there at that revision.
        """
        found = self.find([each.sku for each in new])
        pairs = [(found.get(each.sku), each) for each in new]
        there = [(old, x) for old, x in pairs if old and old.revision == x.revision]
        if len(there) < len(new):
            here = {each.sku for _, each in there}
            sku = next(each.sku for each in new if each.sku not in here)
            raise Conflict(f"the listing '{sku}' was changed meanwhile; read it again")
        self._replace(there, why)

    def remove(
        self, sku: str, *, expected: int, rev: int, at: datetime, by: str
    ) -> bool:
        """Whether the listing was there at revision ``expected`` and is gone."""
        old = self.get(sku)
        if old is None or old.revision != expected or expected >= LARGEST:
            return False
        change = update(listings).where(listings.c.seq == old.seq)
        change = change.values(
            revision=expected + 1,
            changed_rev=rev,
            changed_at=at,
            changed_by=by,
            removed_at=at,
        )
        self._connection.execute(change)
        remove_bands(self._connection, old.seq)
        gone = replace(old, bands=(), changed_rev=rev, changed_at=at, changed_by=by)
        note_moves(self._connection, [(old, gone)], why="removed")
        return True

    def get(self, sku: str) -> Listing | None:
        """The listing that is there under this sku, or None."""
        return self.find([sku]).get(sku)

    def find(self, skus: Collection[str]) -> Mapping[str, Listing]:
        """Those of the skus that are there."""
        found: dict[str, Listing] = {}
        for part in in_parts(skus):
            named = listings.c.sku.in_(part)
            each = self._with_bands(listings.c.sku, _THERE & named, PART)
            found |= {one.sku: one for one in each}
        return found

    def page(
        self,
        wanted: ListingFilter,
        *,
        limit: int,
        past: int | None,
        newer: bool = False,
    ) -> tuple[Listing, ...]:
        """At most ``limit`` listings, newest first, that lie past a ``seq``."""
        query = select(listings).where(*_conditions(wanted))
        query = page_of(query, listings.c.seq, limit=limit, past=past, newer=newer)
        rows = self._connection.execute(query).all()
        found = bands_of(self._connection, [row.seq for row in rows])
        return tuple(listing(row, found[row.seq]) for row in rows)

    def count(self, wanted: ListingFilter) -> int:
        """How many there are [count]."""
        query = select(func.count()).select_from(listings)
        query = query.where(*_conditions(wanted))
        return self._connection.execute(query).scalar_one()

    def each(self) -> Iterator[Listing]:
        """Every listing by sku, a few at a time."""
        past = ""
        while some := self._with_bands(
            listings.c.sku, _THERE & (listings.c.sku > past), PART
        ):
            yield from some
            past = some[-1].sku

    def specs_in_use(self) -> tuple[Spec, ...]:
        """Every spec that a band has, in no order."""
        used = select(bands.c.spec).where(bands.c.spec == specs.c.id).exists()
        rows = self._connection.execute(select(specs).where(used))
        return tuple(spec(row) for row in rows)

    def cases_in_use(
        self, skus: Collection[str] | None = None
    ) -> tuple[CaseInUse, ...]:
        """Every pair of spec and price in force, of all listings or of some."""
        return cases_in_use(self._connection, skus)

    def places(
        self, spec: int, price: Decimal, *, limit: int, past: int = 0
    ) -> tuple[tuple[int, Place], ...]:
        """Bands of one case with their ids, by id from above ``past`` on."""
        return places_of_case(self._connection, spec, price, limit=limit, past=past)

    def changed_since(self, rev: int, *, limit: int) -> tuple[str, ...]:
        """Skus of listings added, edited or removed after a count, in order."""
        query = select(listings.c.sku).where(listings.c.changed_rev > rev).distinct()
        query = query.order_by(listings.c.sku).limit(limit)
        return tuple(self._connection.execute(query).scalars())

    def history(
        self, sku: str, *, limit: int, past: int | None
    ) -> tuple[PriceMove, ...]:
        """How the prices under a sku changed, newest first."""
        return history(self._connection, sku, limit=limit, past=past)

    def _replace(self, pairs: Sequence[tuple[Listing, Listing]], why: Why) -> None:
        if not pairs:
            return
        rows = [
            {**listing_values(new), "b_seq": old.seq, "revision": old.revision + 1}
            for old, new in pairs
        ]
        here = listings.c.seq == bindparam("b_seq")
        self._connection.execute(update(listings).where(here), rows)
        placed = [(old, replace(new, seq=old.seq)) for old, new in pairs]
        replace_bands(self._connection, placed)
        note_moves(self._connection, placed, why=why)

    def _taken(self, skus: Collection[str]) -> set[str]:
        taken: set[str] = set()
        for part in in_parts(skus):
            query = select(listings.c.sku).where(_THERE, listings.c.sku.in_(part))
            taken |= {*self._connection.execute(query).scalars()}
        return taken

    def _with_bands(
        self, order: ColumnElement[str], condition: ColumnElement[bool], limit: int
    ) -> list[Listing]:
        query = select(listings).where(condition).order_by(order).limit(limit)
        rows = self._connection.execute(query).all()
        found = bands_of(self._connection, [row.seq for row in rows])
        return [listing(row, found[row.seq]) for row in rows]


def _conditions(wanted: ListingFilter) -> list[ColumnElement[bool]]:
    found: list[ColumnElement[bool]] = [_THERE]
    for name in ("kind", "coin", "channel", "policy"):
        said = getattr(wanted, name)
        if said:
            found.append(listings.c[name] == said)
    for name in ("locked", "published"):
        said = getattr(wanted, name)
        if said is not None:
            found.append(listings.c[name].is_(said))
    if wanted.text:
        text = folded(wanted.text)
        found.append(listings.c.search.contains(text, autoescape=True))
    return found
