"""How the prices before a repricing come back: exactly, or not at all."""

from __future__ import annotations

from itertools import takewhile

from api.ports import Clock, Deed, Place, Repricing, StorageCollision, UnitOfWork
from api.services.actor import actor
from api.services.audit import note
from api.services.hooks.events import tell_run
from api.services.repricings.clearing import clear
from api.services.repricings.pace import Pace
from api.services.repricings.refusals import (
    MOST_NAMED,
    Changed,
    Overtaken,
    check_status,
    check_version,
    found,
    moved_on,
)
from api.services.snapshots import Snapshots

LATER = 10
"""How many later runs are looked at for what they have left over [count]."""
NOT_IN_FORCE = frozenset({"preview", "undone"})
TRIES = 3
"""How often is looked again because listings were changed meanwhile."""


class RepricingUndo:
    """Takes applied runs back."""

    def __init__(self, snapshots: Snapshots, clock: Clock, *, pace: Pace) -> None:
        self._snapshots = snapshots
        self._clock = clock
        self._pace = pace

    def undo(self, run_id: str, *, expected: int | None) -> Repricing:
        """Take a run back, as `Repricings.undo` says.

        Whether each of its prices still stands is looked up before the transaction,
        since that takes long; it counts the listings on from the very number that
        was there, or does nothing.
        """
        for _ in range(TRIES):
            run, rev = self._standing(run_id, expected)
            undone = self._switched(run, rev)
            if undone is not None:
                clear(self._snapshots, undone, self._pace)
                return undone
        raise StorageCollision(
            "listings are being changed all the time, so that the repricing could "
            "not be undone; try again"
        )

    def _standing(self, run_id: str, expected: int | None) -> tuple[Repricing, int]:
        """The run, if its prices stand, and what the counter ``listings`` is."""
        try:
            return self._looked_up(run_id, expected)
        except Overtaken:
            if not self._tidied(run_id):
                raise
            return self._looked_up(run_id, expected)

    def _tidied(self, run_id: str) -> bool:
        """Whether anything may have been left over by later runs, not in force now.

        A process that ended while it took a run back can have left it.
        """
        newest = self._snapshots.storage.read(
            lambda unit: unit.repricings.page(None, limit=LATER, past=None)
        )
        later = takewhile(lambda run: run.id != run_id, newest)
        tried = [run for run in later if run.version > 1 and run.status in NOT_IN_FORCE]
        for run in tried:
            clear(self._snapshots, run, self._pace)
        return bool(tried)

    def _looked_up(self, run_id: str, expected: int | None) -> tuple[Repricing, int]:
        def look(unit: UnitOfWork) -> tuple[Repricing, int, tuple[Place, ...]]:
            run = found(unit.repricings.get(run_id), run_id)
            check_version(run, expected)
            check_status(run, "applied")
            touched = unit.repricings.touched_since(run.seq, limit=MOST_NAMED)
            return run, unit.revisions.all().listings, touched

        run, rev, touched = self._snapshots.storage.read(look)
        if touched:
            raise Overtaken(
                "nothing was undone, since prices have changed after this repricing "
                "and would lose that. Changed were",
                (Changed(*place) for place in touched),
            )
        return run, rev

    def _switched(self, run: Repricing, rev: int) -> Repricing | None:
        def switch(unit: UnitOfWork) -> Repricing | None:
            counted = unit.revisions.bump("listings", expected=rev)
            if counted is None:
                return None
            deed = Deed(by=actor().by, at=self._clock.now(), rev=counted)
            undone = unit.repricings.undo(run, deed=deed)
            if undone is None:
                raise moved_on(found(unit.repricings.get(run.id), run.id))
            before, after = {"status": run.status}, {"status": undone.status}
            note(unit, deed.at, "repricing.undone", run.id, before=before, after=after)
            tell_run(unit, deed.at, run.seq)
            return undone

        return self._snapshots.write(switch)
