"""Applies that go on while nobody waits for them, and can be left and found again.

Whoever applies a run hears at once whether it was begun, or why it is refused. A few
prices are in force by then; many are made ready by a thread of this process. How far
it has come is read from the database, so that any process can tell; a run whose
process has ended is applied again and goes on.
"""

from __future__ import annotations

from collections.abc import Sequence
from concurrent.futures import Future
from dataclasses import dataclass
from datetime import timedelta
from decimal import Decimal
from threading import Thread

from api.ports import Clock, Conflict, Place, Repricing, ServiceError, UnitOfWork
from api.services.actor import acting, actor
from api.services.repricings.apply import RepricingApply
from api.services.repricings.holds import refuse_unless_it_holds
from api.services.repricings.judged_cases import MOVES
from api.services.repricings.refusals import (
    MOST_NAMED,
    Changed,
    Outdated,
    Overtaken,
)
from api.services.snapshots import Snapshots
from pricing import money

QUIET_AFTER = timedelta(seconds=30)
"""After so long without a sign of life an apply has probably been cut short."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Progress:
    """How far an apply has come.

    Attributes:
        done, of: bands that are ready, and all of the run [count].
        quiet: whether there was no sign of life for a while.
    """

    done: int
    of: int
    quiet: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Outcome:
    """What applying a preview would change.

    Attributes:
        bands: that get another price [count].
        value_change: what they gain together [currency].
    """

    bands: int
    value_change: Decimal


class RunningRepricings:
    """Starts applies, and tells how runs stand."""

    def __init__(
        self, snapshots: Snapshots, clock: Clock, *, apply: RepricingApply
    ) -> None:
        self._snapshots = snapshots
        self._clock = clock
        self._apply = apply

    def start(
        self, run_id: str, *, expected: int | None, include: Sequence[Place] = ()
    ) -> Repricing:
        """Begin to apply a run, or go on with it; the run as it was begun.

        It is applied by then if it is small, and else goes on in a thread.

        Raises as `Repricings.apply`, where it cannot be begun.
        """
        begun, who = Future[Repricing](), actor()

        def work() -> None:
            try:
                with acting(who):
                    self._apply.apply(
                        run_id,
                        expected=expected,
                        include=include,
                        begun=begun.set_result,
                    )
            except Exception as error:
                if not begun.done():
                    begun.set_exception(error)
                elif not isinstance(error, ServiceError):
                    raise  # else the run says itself what became of it

        # A process that ends does not wait for it: that is as if it had been killed,
        # which is harmless.
        Thread(target=work, name=f"repricing {run_id}", daemon=True).start()
        return begun.result()

    def progress(self, run: Repricing) -> Progress:
        """How far the apply of a run has come."""
        alive = run.reached_at or run.created_at
        return Progress(
            done=self._snapshots.read(
                lambda unit: unit.repricings.bands_until(run.seq, run.reached)
            ),
            of=sum(run.counts.values()),
            quiet=self._clock.now() - alive > QUIET_AFTER,
        )

    def outcome(self, run: Repricing, include: Sequence[Place] = ()) -> Outcome:
        """What applying a run changes with these of its bands in review, or did."""
        places = {*include, *run.named}
        found = self._snapshots.read(
            lambda unit: unit.repricings.at_places(run.seq, places)
        )
        named = [band for band in found.values() if band.decision == "review"]
        with money.arithmetic():
            gains = (
                band.new_price - band.old_price
                for band in named
                if band.new_price is not None
            )
            return Outcome(
                bands=sum(run.counts.get(name, 0) for name in MOVES) + len(named),
                value_change=sum(gains, run.value_change),
            )

    def against(self, run: Repricing) -> Conflict | None:
        """Why a preview can no longer be applied, or an applied run not be undone.

        Returns:
            `Overtaken` with what was changed, `Outdated`, or None.
        """
        looks = {"preview": refuse_unless_it_holds, "applied": _refuse_if_touched}
        look = looks.get(run.status)
        if look is None:
            return None
        try:
            self._snapshots.read(lambda unit: look(unit, run))
        except (Overtaken, Outdated) as refusal:
            return refusal
        return None


def _refuse_if_touched(unit: UnitOfWork, run: Repricing) -> None:
    touched = unit.repricings.touched_since(run.seq, limit=MOST_NAMED)
    if touched:
        raise Overtaken(
            "prices have changed after this repricing and would lose that",
            (Changed(*place) for place in touched),
        )
