"""Requests that must have their effect once, and get the same answer again.

The answer is written down in the transaction of its effect, so that there is
never one without the other, whenever a connection or the program breaks off.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime, timedelta

from api.ports import (
    Answered,
    Clock,
    Once,
    StorageCollision,
    StorageUnavailable,
    UnitOfWork,
)
from api.services.snapshots import Snapshots

LIFETIME = timedelta(hours=24)
"""How long an answer is kept."""
_SWEEP_EVERY = timedelta(hours=1)


@dataclass(frozen=True, slots=True, kw_only=True)
class Replay:
    """An answer, and of which request.

    Attributes:
        answer: what to send.
        fingerprint: of the request it was first given to.
        again: whether it was given before.
    """

    answer: Answered
    fingerprint: str
    again: bool = False


class Replays:
    """Answers that were given, for a day."""

    def __init__(self, snapshots: Snapshots, clock: Clock) -> None:
        self._snapshots = snapshots
        self._clock = clock
        self._swept: datetime | None = None

    def answer(self, once: Once, work: Callable[[], Answered]) -> Replay:
        """The answer kept under this name; else what ``work`` gives, which is kept.

        What ``work`` changes through the services is one transaction with keeping
        its answer, and is run again as a whole after a collision.

        Raises:
            StorageCollision: another change was in the way, and nothing was done.
            Exception: whatever ``work`` raises; nothing is kept then.
        """
        self._sweep()

        def attempt(unit: UnitOfWork) -> Replay:
            found = self._found(unit, once)
            if found is None:
                found = Replay(answer=work(), fingerprint=once.fingerprint)
                self._add(unit, once, found.answer)
            return found

        try:
            return self._snapshots.transaction(attempt)
        except StorageUnavailable:
            raise
        except Exception:
            # What it met may be the effect of the same request, a moment sooner.
            found = self._snapshots.storage.read(lambda unit: self._found(unit, once))
            if found is None:
                raise
            return found

    def keep(self, once: Once, answer: Answered) -> None:
        """Keep an answer that had no effect, unless there is one already."""

        def attempt(unit: UnitOfWork) -> None:
            if self._found(unit, once) is None:
                self._add(unit, once, answer)

        self._snapshots.transaction(attempt)

    def _found(self, unit: UnitOfWork, once: Once) -> Replay | None:
        found = unit.replays.find(once, since=self._oldest())
        if found is None:
            return None
        fingerprint, answer = found
        return Replay(answer=answer, fingerprint=fingerprint, again=True)

    def _add(self, unit: UnitOfWork, once: Once, answer: Answered) -> None:
        now = self._clock.now()
        if unit.replays.add(once, answer, at=now):
            return
        unit.replays.forget(before=self._oldest())  # its name may be in use no more
        if not unit.replays.add(once, answer, at=now):
            raise StorageCollision("the same request was answered a moment sooner")

    def _sweep(self) -> None:
        """Now and then drop old answers, apart from anything else."""
        now = self._clock.now()
        if self._swept is None or now - self._swept >= _SWEEP_EVERY:
            self._swept = now
            self._snapshots.storage.write(
                lambda unit: unit.replays.forget(before=self._oldest())
            )

    def _oldest(self) -> datetime:
        return self._clock.now() - LIFETIME
