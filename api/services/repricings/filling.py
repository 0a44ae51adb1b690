"""Previews of very many bands: filled a part at a time, and seen only when whole.

One transaction for all of them would keep every other writer waiting for as long as
it takes. What was being filled when a process ended is seen by nobody, and a later
preview drops it.
"""

from __future__ import annotations

import math
import time
from collections.abc import Callable, Sequence

from api.ports import Clock, Filled, Repricing, RepricingCase, UnitOfWork
from api.services.repricings.apply import STALE_AFTER
from api.services.repricings.pace import Pace
from api.services.snapshots import Snapshots

MANY = 100_000
"""More bands than this are filled in parts [count]."""
SWEEP_S = 2.5
"""How long whoever makes a preview may have to wait for older ones to go [s]."""


class Filling:
    """Fills runs that nobody sees yet."""

    def __init__(
        self,
        snapshots: Snapshots,
        clock: Clock,
        *,
        pace: Pace,
        tick: Callable[[], float] = time.monotonic,
    ) -> None:
        self._snapshots = snapshots
        self._clock = clock
        self._pace = pace
        self._tick = tick

    def filled(
        self, run: Repricing, cases: Sequence[RepricingCase]
    ) -> Repricing | None:
        """The run with a row for every band, still unseen.

        Returns:
            The run with its ``seq``; None where listings were changed meanwhile, or
            somebody took it for left behind. Nothing is left of it then.
        """
        bands, put = sum(run.counts.values()), 0
        run = self._snapshots.write(
            lambda unit: unit.repricings.begin_filling(run, cases)
        )
        after = 0
        while (chunk := self._chunk(run, after)) is not None:
            after, put = chunk.reached, put + chunk.bands
            self._pace.rest(bands)
        if put == bands:
            return run
        self.drop(run.seq)
        return None

    def drop(self, seq: int, *, until: float = math.inf) -> None:
        """Drop a run that is still unseen, a part at a time, until a moment [s]."""

        def drop(unit: UnitOfWork) -> bool:
            return unit.repricings.drop_chunk(seq, size=self._pace.size)

        while self._tick() < until and self._snapshots.write(drop, beside=True):
            self._pace.pause()

    def sweep(self) -> None:
        """Drop what processes that have ended were filling, and what was let go.

        For a short while only: what is left is seen by nobody, and goes another time.
        """
        long_ago, until = self._clock.now() - STALE_AFTER, self._tick() + SWEEP_S
        read = self._snapshots.storage.read
        for seq in read(lambda unit: unit.repricings.left_behind(long_ago)):
            self.drop(seq, until=until)

    def _chunk(self, run: Repricing, after: int) -> Filled | None:
        if self._snapshots.storage.revisions().listings != run.listings_rev:
            return None  # the rest would be for nothing

        def fill(unit: UnitOfWork) -> Filled | None:
            return unit.repricings.fill_chunk(
                run.seq, after=after, size=self._pace.size, at=self._clock.now()
            )

        return self._snapshots.write(fill, beside=True)
