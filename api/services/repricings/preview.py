"""A run over the listings, worked out and stored; nothing is changed by it."""

from __future__ import annotations

import secrets
from collections.abc import Sequence
from contextvars import ContextVar
from decimal import Decimal

from api.ports import (
    CaseDecision,
    Clock,
    Repricing,
    RepricingCase,
    StorageCollision,
    UnitOfWork,
)
from api.services.actor import actor
from api.services.audit import note
from api.services.repricings.filling import MANY, Filling
from api.services.repricings.judged_cases import CaseJudge, JudgedCase, JudgedCases
from api.services.repricings.pace import Pace
from api.services.repricings.price_ground import PriceGrounds
from api.services.snapshots import Snapshots
from pricing import money
from pricing.reprice import Judged

TRIES = 3
"""How often the listings are read again because they were changed meanwhile."""


def new_id() -> str:
    """An id that nobody can guess; it has no hyphen, which a command would misread."""
    return secrets.token_hex(16)


class RepricingPreview:
    """Makes previews."""

    def __init__(
        self,
        snapshots: Snapshots,
        clock: Clock,
        *,
        grounds: PriceGrounds,
        judge: CaseJudge,
        pace: Pace,
    ) -> None:
        self._snapshots = snapshots
        self._clock = clock
        self._grounds = grounds
        self._judge = judge
        self._filling = Filling(snapshots, clock, pace=pace)
        # What this thread, or whatever answers a request, has filled ahead.
        self._ahead: ContextVar[Repricing | None] = ContextVar("ahead", default=None)

    def work_out(
        self, spot_price: Decimal | None, skus: Sequence[str] | None
    ) -> JudgedCases:
        """Work everything out without storing it; what follows soon is quick."""
        return self._judge.judged(self._grounds.at(spot_price), skus)

    def ahead(self, spot_price: Decimal | None, skus: Sequence[str] | None) -> None:
        """Do what takes long, so that `make` is quick within a transaction."""
        self._filling.sweep()
        judged = self.work_out(spot_price, skus)
        self._ahead.set(self._filled(judged) if _is_large(judged) else None)

    def make(
        self,
        spot_price: Decimal | None,
        skus: Sequence[str] | None,
        *,
        anew: bool = True,
    ) -> Repricing:
        """A stored preview of one state of the listings.

        They are read and worked out first, since that takes long, and the preview is
        stored in a short transaction if nothing has changed by then. Unless it has to
        be ``anew``, the newest run is as good if it is a preview of the same.
        """
        for _ in range(TRIES):
            judged = self.work_out(spot_price, skus)
            made = (None if anew else self._same(judged)) or self._made(judged)
            if made is not None:
                return made
        raise StorageCollision(
            "listings are being changed all the time, so that no preview could be "
            "made of one state of them; try again"
        )

    def _same(self, judged: JudgedCases) -> Repricing | None:
        """The newest run, if it is a preview that would be made just so again."""
        if judged.ground.spot is None and judged.counts()["blocked"]:
            return None  # it may be missing for another reason than it was then
        newest = self._snapshots.read(
            lambda unit: unit.repricings.page(None, limit=1, past=None)
        )
        wanted = _stands_on(self._run(judged))
        same = (x for x in newest if x.status == "preview" and _stands_on(x) == wanted)
        return next(same, None)

    def _made(self, judged: JudgedCases) -> Repricing | None:
        filled = self._ahead.get()
        if filled is None or _stands_on(filled) != _stands_on(self._run(judged)):
            if self._snapshots.joined:
                return self._stored(judged)
            self._filling.sweep()
            if not _is_large(judged):
                return self._stored(judged)
            filled = self._filled(judged)
        return None if filled is None else self._shown(filled)

    def _filled(self, judged: JudgedCases) -> Repricing | None:
        cases = _cases(judged)
        return self._filling.filled(self._run(judged), cases)

    def _shown(self, filled: Repricing) -> Repricing | None:
        """The preview, whole, for all to see; None if it does not hold any more."""

        def show(unit: UnitOfWork) -> Repricing | None:
            if unit.revisions.all().listings != filled.listings_rev:
                return None
            shown = unit.repricings.end_filling(filled)
            if shown is not None:
                _note(unit, shown)
            return shown

        shown = self._snapshots.write(show)
        if shown is None:
            self._ahead.set(None)
            if not self._snapshots.joined:
                self._filling.drop(filled.seq)
        return shown

    def _stored(self, judged: JudgedCases) -> Repricing | None:
        """The preview in one transaction; None if it does not hold any more."""
        run, cases = self._run(judged), _cases(judged)

        def store(unit: UnitOfWork) -> Repricing | None:
            if unit.revisions.all().listings != judged.rev:
                return None
            added = unit.repricings.add(run, cases)
            if unit.repricings.fill_bands(added.seq, skus=run.skus) != judged.bands:
                raise StorageCollision("prices were changed meanwhile; try again")
            _note(unit, run)
            return added

        return self._snapshots.write(store)

    def _run(self, judged: JudgedCases) -> Repricing:
        ground = judged.ground
        return Repricing(
            id=new_id(),
            created_at=self._clock.now(),
            created_by=actor().by,
            currency=ground.book.currency.code,
            spot=ground.spot_text(),
            spot_price=money.ZERO if ground.spot is None else ground.spot.price,
            book_version=ground.book.version,
            skus=judged.skus,
            counts=judged.counts(),
            value_change=judged.value_change(),
            listings_rev=judged.rev,
            coins_rev=judged.coins_rev,
        )


def _is_large(judged: JudgedCases) -> bool:
    # Some listings are never so many that anybody would wait for them.
    return judged.skus is None and judged.bands > MANY


def _stands_on(run: Repricing) -> tuple[object, ...]:
    spot = (run.spot_price, run.currency)
    return (run.listings_rev, run.coins_rev, run.skus, run.book_version, spot)


def _note(unit: UnitOfWork, run: Repricing) -> None:
    note(unit, run.created_at, "repricing.previewed", run.id, after=_told(run))


def _told(run: Repricing) -> dict[str, object]:
    return {
        "spot_price": run.spot_price,
        "book_version": run.book_version,
        "skus": None if run.skus is None else len(run.skus),
        "counts": run.counts,
        "value_change": run.value_change,
    }


def _cases(judged: JudgedCases) -> list[RepricingCase]:
    with money.arithmetic():
        return [_case(each) for each in judged.cases]


def _case(each: JudgedCase) -> RepricingCase:
    case, judged = each.case, each.judged
    if judged is None:
        return RepricingCase(
            spec=case.spec.id,
            old_price=case.price,
            new_price=None,
            decision="blocked",
            reason=each.blocked,
        )
    floor = judged.spot_at_floor
    return RepricingCase(
        spec=case.spec.id,
        old_price=case.price,
        new_price=judged.new_price,
        old_margin=judged.old_margin,
        new_margin=judged.new_margin,
        decision=decision_of(judged),
        reason=judged.reason,
        spot_at_floor=None if floor is None else money.down(floor, money.SPOT_STEP),
    )


_DECISIONS: dict[str, CaseDecision] = {
    "hold": "hold",
    "raise": "raise",
    "lower": "lower",
    "review": "review",
}


def decision_of(judged: Judged) -> CaseDecision:
    """The decision of a case that can be priced; the other two are not its own."""
    return _DECISIONS[judged.decision]


def floor_of(judged: Judged) -> Decimal | None:
    """The spot at the floor as it is shown, never beyond it [currency/ozt]."""
    exact = judged.spot_at_floor
    if exact is None:
        return None
    with money.arithmetic():
        return money.tidy(money.down(exact, money.SPOT_STEP))
