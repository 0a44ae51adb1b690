"""Where repricings are kept, and how their prices come into force."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from datetime import datetime
from typing import Protocol

from api.ports.listings import Place
from api.ports.repricings import (
    BandDecision,
    BandFilter,
    Deed,
    Filled,
    Repricing,
    RepricingBand,
    RepricingCase,
    RepricingStatus,
)


class RepricingStore(Protocol):
    """Runs over the listings: previewed, applied in chunks, switched, undone.

    The order of things. Preview: `add`, `fill_bands`; or of many bands
    `begin_filling`, `fill_chunk` until it is None, each in a transaction of its own,
    and `end_filling`, until which nobody sees the run. Apply: `stands_against` is
    empty; `begin`; `apply_chunk` until it is None, each in a transaction of its own;
    `switch`, which asks again. If that is refused: `give_up`, then `clear_chunk`
    until it is None. Undo: `touched_since` is empty and `undo`.
    No reader sees a new price before `switch`, or an old one after it; `clear_chunk`
    changes no price in force, and may be left out or repeated at will.
    """

    def add(self, run: Repricing, cases: Sequence[RepricingCase]) -> Repricing:
        """Store a preview with its cases; the run with its ``seq``, and they rise."""
        ...

    def fill_bands(self, run: int, *, skus: Collection[str] | None = None) -> int:
        """Give the run every band whose spec and price in force is one of its cases.

        One statement (for some skus: one for some hundred of them). How many bands
        the run has then [count]: the caller knows how many it has to have.
        """
        ...

    def begin_filling(
        self, run: Repricing, cases: Sequence[RepricingCase]
    ) -> Repricing:
        """Like `add`; but the run is found by nothing until `end_filling`."""
        ...

    def fill_chunk(
        self, run: int, *, after: int, size: int, at: datetime
    ) -> Filled | None:
        """Give the run the next ``size`` bands or a few more, from whole listings.

        Arguments as of `apply_chunk`.

        Returns:
            What was put in; None when there is nothing more, or the run is not being
            filled.
        """
        ...

    def end_filling(self, run: Repricing) -> Repricing | None:
        """The run as a preview that all can see; None unless it is being filled.

        The caller counts the bands put in, and sees that no listing has changed.
        """
        ...

    def left_behind(self, before: datetime) -> tuple[int, ...]:
        """``seq`` of runs whose filling has given no sign of life since ``before``."""
        ...

    def drop_chunk(self, run: int, *, size: int) -> bool:
        """Drop ``size`` bands or a few more of a run that is being filled.

        With the last of them its cases and itself. Whether there is more to drop.
        """
        ...

    def expendable(
        self, *, before: datetime, keep: int, limit: int
    ) -> tuple[Repricing, ...]:
        """Previews made ``before`` a moment, or not among the newest ``keep`` [count].

        At most ``limit``, the oldest first.
        """
        ...

    def let_go(self, runs: Collection[int], *, at: datetime) -> None:
        """Let nobody see these any more, if they are previews; see `left_behind`.

        ``at`` counts as their last sign of life. `drop_chunk` drops them.
        """
        ...

    def get(self, run_id: str) -> Repricing | None: ...  # noqa: D102
    def page(
        self,
        status: RepricingStatus | None,
        *,
        limit: int,
        past: int | None,
        newer: bool = False,
    ) -> tuple[Repricing, ...]:
        """At most ``limit`` runs, newest first, past a ``seq``, as for quotes."""
        ...

    def last_applied(self) -> Repricing | None:
        """The run that was applied last and is not undone."""
        ...

    def applying(self) -> Repricing | None:
        """The run that is being applied, or was when a process ended; one at most."""
        ...

    def bands(
        self,
        run: int,
        wanted: BandFilter,
        *,
        limit: int,
        past: Place | None,
        newer: bool = False,
    ) -> tuple[RepricingBand, ...]:
        """At most ``limit`` bands by sku and size that lie past a place.

        Skus by their bytes. Past it means after, or with ``newer`` before; the
        nearest ones count, in the same order, and None begins at the first (with
        ``newer`` at the last).
        """
        ...

    def at_places(
        self, run: int, places: Collection[Place]
    ) -> Mapping[Place, RepricingBand]:
        """The run's bands at these places."""
        ...

    def counts(self, run: int) -> Mapping[BandDecision, int]:
        """Bands by decision, counted in the storage [count]."""
        ...

    def bands_until(self, run: int, listing: int) -> int:
        """How many bands of a run are of listings up to a ``seq`` [count]."""
        ...

    def stands_against(self, run: Repricing, *, limit: int) -> tuple[str, ...]:
        """Skus of the run's listings whose preview no longer holds, in order.

        They were edited or removed since, or another run that changed one of the
        bands was applied or undone since. What the run does not touch, such as a new
        listing, does not count. Quick where nothing was changed.
        """
        ...

    def begin(
        self, run: Repricing, named: Collection[Place], *, deed: Deed
    ) -> Repricing | None:
        """The run as being applied; None unless it is a preview at its version.

        ``named`` bands in review will move too; others at these places are left as
        they are. The caller bumps ``listings`` for this, too.

        Raises:
            Conflict: another run is being applied, or `stands_against` names a
                listing.
        """
        ...

    def apply_at_once(
        self, run: Repricing, named: Collection[Place], *, deed: Deed
    ) -> Repricing | None:
        """The run as applied, in one go: as by `begin`, all chunks and `switch`.

        None unless it is a preview at its version. Arguments and errors as of `begin`.
        """
        ...

    def apply_chunk(
        self, run: int, *, after: int, size: int, at: datetime
    ) -> int | None:
        """Make ready the next ``size`` bands or a few more, from whole listings.

        Args:
            run: ``seq`` of a run that is being applied.
            after: ``seq`` of the listing before which all is ready; 0 begins, and
                ``reached`` goes on after an interruption. Bands that are ready
                already stay so.
            size: [count].
            at: goes into ``reached_at``.

        Returns:
            ``seq`` of the last listing done; None when there is nothing more, or the
            run is not being applied.
        """
        ...

    def switch(self, run: Repricing, *, deed: Deed) -> Repricing | None:
        """The run as applied: from the commit on, all its prices are in force.

        None unless it is being applied at its version.

        Raises:
            Conflict: `stands_against` names a listing.
        """
        ...

    def give_up(self, run: Repricing) -> Repricing | None:
        """The run as a preview again; None unless it is being applied at its version.

        No price in force was changed. Its ``reached_at`` stays until it is `cleared`:
        what was made ready would come into force with it.
        """
        ...

    def clear_chunk(self, run: int, *, after: int, size: int) -> int | None:
        """Take back what `apply_chunk` made ready; for a run not in force.

        Bands whose price in force comes from an earlier run are then as they were
        before, so that this one can be undone. Arguments and result as there.
        """
        ...

    def cleared(self, run: int) -> None:
        """Note that nothing is left of what was made ready for a preview."""
        ...

    def touched_since(self, run: int, *, limit: int) -> tuple[Place, ...]:
        """Bands moved by an applied run that have changed since, in order.

        They were edited, or made ready by a later run, or their listing has other
        sizes now. Those of removed listings do not count: no price is left there.
        """
        ...

    def undo(self, run: Repricing, *, deed: Deed) -> Repricing | None:
        """The run as undone: from the commit on, the prices before it are in force.

        None unless it is applied at its version. The caller asks `touched_since` in
        the same transaction, or before it and then bumps ``listings`` from the very
        count that was there.

        Raises:
            Conflict: another run is being applied.
        """
        ...
