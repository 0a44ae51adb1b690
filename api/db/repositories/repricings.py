"""Repricings: stored as previews, switched into force by one row, and out again."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from datetime import datetime

from sqlalchemy import ColumnElement, exists, select, update

from api.db.mapping import Values
from api.db.repositories import repricing_bands as bands
from api.db.repositories.pages import page_of
from api.db.repositories.repricing_chunks import (
    apply_chunk,
    clear_chunk,
    make_all_ready,
)
from api.db.repositories.repricing_doubts import stands_against, touched_since
from api.db.repositories.repricing_filling import FILLING
from api.db.repositories.repricing_unseen import UnseenRepricings
from api.db.repricing_mapping import (
    NOBODY,
    places_text,
    repricing,
    repricing_values,
)
from api.db.repricing_tables import repricings
from api.ports import (
    BandDecision,
    BandFilter,
    Conflict,
    Deed,
    Place,
    Repricing,
    RepricingBand,
    RepricingCase,
    RepricingStatus,
)

_APPLYING = repricings.c.status == "applying"
_PREVIEW = repricings.c.status == "preview"


class RepricingRepository(UnseenRepricings):
    """The repricings of one transaction."""

    def add(self, run: Repricing, cases: Sequence[RepricingCase]) -> Repricing:
        """Store a preview with its cases; the run with its ``seq``, and they rise."""
        return self.added(run, cases, repricing_values(run))

    def fill_bands(self, run: int, *, skus: Collection[str] | None = None) -> int:
        """Give the run every band whose spec and price in force is a case of it."""
        return bands.fill(self._connection, run, skus)

    def get(self, run_id: str) -> Repricing | None:
        """The run of this id, or None."""
        return self._one(repricings.c.id == run_id)

    def page(
        self,
        status: RepricingStatus | None,
        *,
        limit: int,
        past: int | None,
        newer: bool = False,
    ) -> tuple[Repricing, ...]:
        """At most ``limit`` runs, newest first, that lie past a ``seq``."""
        query = select(repricings).where(repricings.c.status != FILLING)
        if status is not None:
            query = query.where(repricings.c.status == status)
        query = page_of(query, repricings.c.seq, limit=limit, past=past, newer=newer)
        return tuple(repricing(row) for row in self._connection.execute(query))

    def last_applied(self) -> Repricing | None:
        """The run that was applied last and is not undone."""
        query = select(repricings).where(repricings.c.status == "applied")
        query = query.order_by(repricings.c.applied_rev.desc()).limit(1)
        row = self._connection.execute(query).one_or_none()
        return None if row is None else repricing(row)

    def applying(self) -> Repricing | None:
        """The run that is being applied, or was when a process ended."""
        return self._one(_APPLYING)

    def bands(
        self,
        run: int,
        wanted: BandFilter,
        *,
        limit: int,
        past: Place | None,
        newer: bool = False,
    ) -> tuple[RepricingBand, ...]:
        """At most ``limit`` bands by sku and size that lie past a place."""
        page = bands.Page(limit=limit, past=past, newer=newer)
        return bands.page(self._connection, run, wanted, page)

    def at_places(
        self, run: int, places: Collection[Place]
    ) -> Mapping[Place, RepricingBand]:
        """The run's bands at these places."""
        return bands.at_places(self._connection, run, places)

    def counts(self, run: int) -> Mapping[BandDecision, int]:
        """Bands by decision, counted in the storage [count]."""
        return bands.counts(self._connection, run)

    def bands_until(self, run: int, listing: int) -> int:
        """How many bands of a run are of listings up to a ``seq`` [count]."""
        return bands.until(self._connection, run, listing)

    def stands_against(self, run: Repricing, *, limit: int) -> tuple[str, ...]:
        """Skus of the run's listings whose preview no longer holds, in order."""
        return stands_against(self._connection, run, limit)

    def begin(
        self, run: Repricing, named: Collection[Place], *, deed: Deed
    ) -> Repricing | None:
        """The run as being applied; None unless it is a preview at its version.

        Raises:
            Conflict: another run is being applied, or the preview no longer holds.
        """
        values: Values = {"reached": 0, "reached_at": deed.at}
        return self._leaves_preview(run, named, "applying", values)

    def apply_at_once(
        self, run: Repricing, named: Collection[Place], *, deed: Deed
    ) -> Repricing | None:
        """The run as applied; None unless it is a preview at its version.

        Raises:
            Conflict: another run is being applied, or the preview no longer holds.
        """
        values = _applied(deed)
        applied = self._leaves_preview(run, named, "applied", values, steps=2)
        if applied is not None:
            make_all_ready(self._connection, applied)
        return applied

    def apply_chunk(
        self, run: int, *, after: int, size: int, at: datetime
    ) -> int | None:
        """Make ready the next ``size`` bands or a few more, from whole listings."""
        return apply_chunk(self._connection, run, after=after, size=size, at=at)

    def switch(self, run: Repricing, *, deed: Deed) -> Repricing | None:
        """The run as applied; None unless it is being applied at its version.

        Raises:
            Conflict: the preview no longer holds.
        """
        self._demand_it_holds(run)
        return self._become(run, "applying", "applied", _applied(deed))

    def give_up(self, run: Repricing) -> Repricing | None:
        """The run as a preview again; None unless it is being applied."""
        values: Values = {"named": NOBODY, "reached": 0}
        given_up = self._become(run, "applying", "preview", values)
        if given_up is not None:
            bands.let_stay(self._connection, run.seq, run.named)
        return given_up

    def clear_chunk(self, run: int, *, after: int, size: int) -> int | None:
        """Take back what `apply_chunk` made ready; for a run not in force."""
        return clear_chunk(self._connection, run, after=after, size=size)

    def cleared(self, run: int) -> None:
        """Note that nothing is left of what was made ready for a preview."""
        clean = update(repricings).where(repricings.c.seq == run, _PREVIEW)
        self._connection.execute(clean.values(reached_at=None))

    def touched_since(self, run: int, *, limit: int) -> tuple[Place, ...]:
        """Bands moved by an applied run that have changed since, in order."""
        return touched_since(self._connection, run, limit)

    def undo(self, run: Repricing, *, deed: Deed) -> Repricing | None:
        """The run as undone; None unless it is applied at its version.

        Raises:
            Conflict: another run is being applied.
        """
        self._demand_nothing_applying()
        values = {"undone_at": deed.at, "undone_by": deed.by, "undone_rev": deed.rev}
        return self._become(run, "applied", "undone", values)

    def _leaves_preview(
        self,
        run: Repricing,
        named: Collection[Place],
        becomes: RepricingStatus,
        values: Values,
        *,
        steps: int = 1,
    ) -> Repricing | None:
        self._demand_nothing_applying()
        self._demand_it_holds(run)
        told = {"named": places_text(named), **values}
        begun = self._become(run, "preview", becomes, told, steps=steps)
        if begun is not None:
            bands.let_move(self._connection, run.seq, named)
        return begun

    def _become(
        self,
        run: Repricing,
        status: RepricingStatus,
        becomes: RepricingStatus,
        values: Values,
        *,
        steps: int = 1,
    ) -> Repricing | None:
        change = update(repricings).where(
            repricings.c.seq == run.seq,
            repricings.c.version == run.version,
            repricings.c.status == status,
        )
        counted = {"status": becomes, "version": repricings.c.version + steps}
        change = change.values(**counted, **values).returning(*repricings.c)
        row = self._connection.execute(change).one_or_none()
        return None if row is None else repricing(row)

    def _demand_nothing_applying(self) -> None:
        if self._connection.execute(select(exists().where(_APPLYING))).scalar_one():
            raise Conflict(
                "a repricing is being applied just now; wait until it is done"
            )

    def _demand_it_holds(self, run: Repricing) -> None:
        against = stands_against(self._connection, run, 1)
        if against:
            raise Conflict(
                f"the listing '{against[0]}' has changed since the preview; "
                "make a new preview"
            )

    def _one(self, condition: ColumnElement[bool]) -> Repricing | None:
        seen = repricings.c.status != FILLING
        query = select(repricings).where(condition, seen)
        row = self._connection.execute(query).one_or_none()
        return None if row is None else repricing(row)


def _applied(deed: Deed) -> Values:
    return {"applied_at": deed.at, "applied_by": deed.by, "applied_rev": deed.rev}
