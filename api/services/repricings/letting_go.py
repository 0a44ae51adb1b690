"""Previews that nobody applied, let go: they would fill the storage for nothing.

What was applied stays, also undone, since it is the history of prices.
"""

from __future__ import annotations

from datetime import timedelta

from api.ports import Clock, Repricing, StorageCollision, StorageUnavailable
from api.services.repricings.apply import STALE_AFTER
from api.services.repricings.clearing import clear
from api.services.repricings.filling import Filling
from api.services.repricings.pace import Pace
from api.services.snapshots import Snapshots

KEPT_FOR = timedelta(days=30)
"""How long a preview can be applied."""
NEWEST_KEPT = 20
"""How many previews there are at most [count]."""
AT_A_TIME = 100
"""How many are let go at a time [count]."""


class LettingGo:
    """Lets previews go."""

    def __init__(self, snapshots: Snapshots, clock: Clock, *, pace: Pace) -> None:
        self._snapshots = snapshots
        self._clock = clock
        self._pace = pace
        self._filling = Filling(snapshots, clock, pace=pace)

    def some(self) -> None:
        """Let go what is not kept; what this has no time for goes another time.

        Nobody sees them from then on, and then their rows go in short transactions.
        """
        try:
            runs = self._expendable()
            if runs:
                self._let_go(runs)
            self._filling.sweep()
        except (StorageCollision, StorageUnavailable):
            return  # others were in the way, and nobody waits for this

    def _expendable(self) -> tuple[Repricing, ...]:
        before = self._clock.now() - KEPT_FOR
        return self._snapshots.storage.read(
            lambda unit: unit.repricings.expendable(
                before=before, keep=NEWEST_KEPT, limit=AT_A_TIME
            )
        )

    def _let_go(self, runs: tuple[Repricing, ...]) -> None:
        for run in runs:
            if run.version > 1:  # once begun, and then given up
                clear(self._snapshots, run, self._pace)
        # Nobody fills them, so there is no sign of life to be waited for.
        long_ago = self._clock.now() - 2 * STALE_AFTER
        seqs = [run.seq for run in runs]
        self._snapshots.storage.write(
            lambda unit: unit.repricings.let_go(seqs, at=long_ago)
        )
