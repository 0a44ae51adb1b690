"""A run over the listings, worked out and stored; nothing is changed by it."""

from __future__ import annotations

import secrets
from collections.abc import Sequence
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
from api.services.judged_cases import CaseJudge, JudgedCase, JudgedCases
from api.services.price_ground import PriceGrounds
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
    ) -> None:
        self._snapshots = snapshots
        self._clock = clock
        self._grounds = grounds
        self._judge = judge

    def work_out(
        self, spot_price: Decimal | None, skus: Sequence[str] | None
    ) -> JudgedCases:
        """Work everything out without storing it; what follows soon is quick."""
        return self._judge.judged(self._grounds.at(spot_price), skus)

    def make(self, spot_price: Decimal | None, skus: Sequence[str] | None) -> Repricing:
        """A stored preview of one state of the listings.

        They are read and worked out first, since that takes long, and the preview is
        stored in a short transaction if nothing has changed by then.
        """
        for _ in range(TRIES):
            made = self._stored(self.work_out(spot_price, skus))
            if made is not None:
                return made
        raise StorageCollision(
            "listings are being changed all the time, so that no preview could be "
            "made of one state of them; try again"
        )

    def _stored(self, judged: JudgedCases) -> Repricing | None:
        run, cases = self._run(judged), [_case(each) for each in judged.cases]

        def store(unit: UnitOfWork) -> Repricing | None:
            if unit.revisions.all().listings != judged.rev:
                return None
            added = unit.repricings.add(run, cases)
            if unit.repricings.fill_bands(added.seq, skus=run.skus) != judged.bands:
                raise StorageCollision("prices were changed meanwhile; try again")
            note(unit, run.created_at, "repricing.previewed", run.id, after=_told(run))
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
        )


def _told(run: Repricing) -> dict[str, object]:
    return {
        "spot_price": run.spot_price,
        "book_version": run.book_version,
        "skus": None if run.skus is None else len(run.skus),
        "counts": run.counts,
        "value_change": run.value_change,
    }


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
    return RepricingCase(
        spec=case.spec.id,
        old_price=case.price,
        new_price=judged.new_price,
        old_margin=judged.old_margin,
        new_margin=judged.new_margin,
        decision=decision_of(judged),
        reason=judged.reason,
        spot_at_floor=floor_of(judged),
    )


def decision_of(judged: Judged) -> CaseDecision:
    """The decision of a case that can be priced; the other two are not its own."""
    names: dict[str, CaseDecision] = {
        "hold": "hold",
        "raise": "raise",
        "lower": "lower",
        "review": "review",
    }
    return names[judged.decision]


def floor_of(judged: Judged) -> Decimal | None:
    """The spot at the floor as it is shown, never beyond it [currency/ozt]."""
    exact = judged.spot_at_floor
    if exact is None:
        return None
    with money.arithmetic():
        return money.tidy(money.down(exact, money.SPOT_STEP))
