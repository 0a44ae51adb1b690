"""Repricings: one run over the listings, previewed, applied in one act, and undone."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal

from api.ports import (
    BandFilter,
    Clock,
    Place,
    Repricing,
    RepricingStatus,
)
from api.services.price_book import PriceBooks
from api.services.repricings.apply import RepricingApply
from api.services.repricings.compiled_bands import CompiledBands
from api.services.repricings.floors import FloorMark, FloorPage, Floors
from api.services.repricings.judged_cases import CaseJudge
from api.services.repricings.letting_go import LettingGo
from api.services.repricings.pace import MANY_WRITERS, Pace
from api.services.repricings.pages import (
    RepricedBands,
    RepricingPage,
    band_page,
    run_page,
)
from api.services.repricings.preview import RepricingPreview
from api.services.repricings.price_ground import PriceGrounds
from api.services.repricings.refusals import found
from api.services.repricings.running import RunningRepricings
from api.services.repricings.undo import RepricingUndo
from api.services.repricings.what_if import WhatIf, WhatIfs
from api.services.snapshots import Snapshots
from api.services.spot.spot_prices import SpotPrices
from pricing import money


class Repricings:
    """Every run over the listings. None is ever applied by itself."""

    def __init__(  # noqa: PLR0913 - what a run is made of, by name
        self,
        snapshots: Snapshots,
        clock: Clock,
        *,
        books: PriceBooks,
        spots: SpotPrices,
        compiled: CompiledBands,
        pace: Pace = MANY_WRITERS,
    ) -> None:
        self._snapshots = snapshots
        self._grounds = PriceGrounds(clock, books=books, spots=spots)
        judge = CaseJudge(snapshots, compiled)
        self._preview = RepricingPreview(
            snapshots, clock, grounds=self._grounds, judge=judge, pace=pace
        )
        self._letting_go = LettingGo(snapshots, clock, pace=pace)
        self._apply = RepricingApply(snapshots, clock, pace=pace)
        self.running = RunningRepricings(snapshots, clock, apply=self._apply)
        self._undo = RepricingUndo(snapshots, clock, pace=pace)
        self._what_if = WhatIfs(snapshots, grounds=self._grounds, judge=judge)
        self._floors = Floors(snapshots, grounds=self._grounds, judge=judge)

    def work_out(
        self, spot_price: Decimal | None = None, skus: Sequence[str] | None = None
    ) -> None:
        """Work a preview out and let nobody see anything; making it is quick then.

        To be called before a transaction that the preview will be part of, so that
        nobody waits for it. Raises as `preview`.
        """
        self._preview.ahead(spot_price, skus)

    def preview(
        self,
        spot_price: Decimal | None = None,
        skus: Sequence[str] | None = None,
        *,
        anew: bool = True,
    ) -> Repricing:
        """Store what would become of every price, without changing any.

        Then previews that are too old, or too many, are let go: those that nobody
        applied in 30 days, and all but the newest 20 of them.

        Args:
            spot_price: of a troy ounce [the book's currency/ozt]; None takes the
                one in force. Where there is none, bands that need it are blocked.
            skus: some listings; None for all.
            anew: False takes the newest run in place of another one, if that is a
                preview of the same at the same spot.

        Raises:
            NotFound: there is no price book yet.
            UnknownKey: a sku that names no listing.
            StaleSpot: the spot in force is too old for a policy in use.
            StorageCollision: listings were changed all the while.
        """
        made = self._preview.make(spot_price, skus, anew=anew)
        self._snapshots.afterwards(self._letting_go.some)
        return made

    def apply(
        self, run_id: str, *, expected: int | None, include: Sequence[Place] = ()
    ) -> Repricing:
        """Put the prices of a preview in force, all at once.

        A run that was cut short is gone on with, by the same call.

        Args:
            run_id: the run.
            expected: the version that was seen [count]; None for whatever it is.
            include: bands in review that are to be changed too; no other is.

        Raises:
            NotFound: there is no such run.
            PreconditionFailed: it has another version.
            InvalidInput: a named band is not in review.
            Overtaken: a listing has changed since the preview; nothing was applied.
            Outdated: the price book or a coin has; nothing was applied.
            Conflict: it was applied or undone before, or another one is being
                applied.
        """
        return self._apply.apply(run_id, expected=expected, include=include)

    def undo(self, run_id: str, *, expected: int | None) -> Repricing:
        """Put the prices before an applied run in force again, all at once.

        Raises:
            NotFound: there is no such run.
            PreconditionFailed: it has another version than ``expected`` [count].
            Overtaken: a band has changed since; nothing was undone.
            Conflict: it is not applied, or another one is being applied.
        """
        return self._undo.undo(run_id, expected=expected)

    def recover(self) -> Repricing | None:
        """Turn a run that a process left while applying it back into a preview."""
        return self._apply.recover()

    def get(self, run_id: str) -> Repricing:
        """The run of an id. Raises NotFound."""
        read = self._snapshots.storage.read
        return found(read(lambda unit: unit.repricings.get(run_id)), run_id)

    def page(
        self,
        status: RepricingStatus | None = None,
        *,
        limit: int,
        past: int | None = None,
        newer: bool = False,
    ) -> RepricingPage:
        """The runs that are next to one of them, newest first, as for quotes.

        Raises:
            InvalidInput: the limit [count] is not 1 to 100.
        """
        return run_page(
            self._snapshots.storage, status, limit=limit, past=past, newer=newer
        )

    def bands(
        self,
        run: Repricing,
        wanted: BandFilter,
        *,
        limit: int,
        past: Place | None = None,
        before: bool = False,
    ) -> RepricedBands:
        """Bands of a run by sku and size that are next to a place.

        Args:
            run: whose bands.
            wanted: which of them.
            limit: at most so many [count], 1 to 100.
            past: only those after it, or with ``before`` those before it.
            before: which way to go.

        Raises:
            InvalidInput: the limit is out of range.
        """
        return band_page(
            self._snapshots.storage, run, wanted, limit=limit, past=past, before=before
        )

    def what_if(
        self,
        *,
        spot_price: Decimal | None = None,
        change_percent: Decimal | None = None,
        skus: Sequence[str] | None = None,
    ) -> WhatIf:
        """The same as a preview, at another spot, stored nowhere.

        Args:
            spot_price: of a troy ounce [the book's currency/ozt].
            change_percent: in its place, how the spot in force changes [%].
            skus: some listings; None for all.

        Raises:
            NotFound: there is no price book yet.
            UnknownKey: a sku that names no listing.
            SpotUnavailable: no spot is in force that could change.
            InvalidInput: both or none are given, or no price is left.
        """
        return self._what_if.ask(
            spot_price=spot_price, change_percent=change_percent, skus=skus
        )

    def floors(self, *, limit: int, past: FloorMark | None = None) -> FloorPage:
        """Which bands fall to their floor next when silver rises, the nearest first.

        Bands that are under it already come before all others; those that never
        fall to it, or cannot be priced, are left out.

        Raises:
            NotFound: there is no price book yet.
            SpotUnavailable, StaleSpot: no spot to reckon from.
            InvalidInput: the limit [count] is not 1 to 100.
        """
        return self._floors.page(limit=limit, past=past)

    def moved_since_applied(self, spot_price: Decimal | None = None) -> Decimal | None:
        """By which share silver has moved since the run that was applied last.

        Args:
            spot_price: of a troy ounce [the book's currency/ozt]; None takes the
                one in force.

        Returns:
            Up or down; None where there is no such run, or it was in another
            currency or without a spot.

        Raises:
            NotFound: there is no price book yet.
            SpotUnavailable: no spot is in force.
        """
        last = self._snapshots.storage.read(lambda unit: unit.repricings.last_applied())
        ground = self._grounds.at(spot_price)
        now = ground.spot or self._grounds.in_force()  # which says what to do
        if last is None or not last.spot_price or last.currency != now.currency:
            return None
        with money.arithmetic():
            return (now.price - last.spot_price) / last.spot_price
