"""Requests counted some at a time, where one caller makes many.

Counting a request is a statement of the storage, and in a busy server each of those
costs several times the answer. So a process whose caller comes again within a few
milliseconds has the next requests counted as well, twice as many each time. What it
was told was stored holds for as long, unless the process itself changes something.

The limit stays exact among any number of processes: a request is only let pass on a
count of its own, whenever that was made; as the end of a quota comes near it is one at
a time again; and what nobody came for is given back.
"""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass, field

from api.ports import StorageUnavailable
from api.services.snapshots import CountedInView, Snapshots
from api.services.soon import soon

GOOD_FOR_S = 0.02
"""How long requests may be made on what was counted ahead [s]."""
MOST_AHEAD = 32
"""Requests that are counted at once, at most [count]."""
SHARE = 8
"""At most one of so many requests that are left is counted ahead."""
GIVEN_BACK_AFTER_S = 0.04
"""When what is left over is looked for [s]."""
_MOST_CALLERS = 1000
_LONGEST_WINDOW_S = 60.0  # what is left of one that has ended is of no use

Later = Callable[[float, Callable[[], None]], None]


@dataclass(slots=True)
class _Caller:
    """What is counted for one caller in one window.

    Attributes:
        partition: who it is.
        window: when it began [s since 1970].
        told: by the last count.
        size: how many requests could be made on that [count].
        left: how many of them have not been made [count].
        until: until when they may be, without asking what is stored [s].
        watched: whether what is left will be given back.
        turn: held while one of these changes.
    """

    partition: str
    window: int
    told: CountedInView | None = None
    size: int = 0
    left: int = 0
    until: float = 0.0
    watched: bool = False
    turn: threading.Lock = field(default_factory=threading.Lock)

    def expected(self, now: float, limit: int) -> int:
        """How many requests to count now, with those that are left [count]."""
        if self.told is None or now >= self.until + GOOD_FOR_S:
            return 1
        made = self.size - self.left
        more = made if self.left else 2 * made
        return max(1, min(more, MOST_AHEAD, (limit - self.told.number) // SHARE))

    def counted(self, told: CountedInView, more: int, now: float) -> None:
        """Take over what a count of so many ``more`` told, asked at ``now``."""
        self.told, self.until = told, now + GOOD_FOR_S
        self.left += more
        self.size = self.left


class CountingAhead:
    """Counts requests, several at once where they come quickly."""

    def __init__(
        self,
        snapshots: Snapshots,
        *,
        now_s: Callable[[], float] = time.monotonic,
        later: Later = soon,
    ) -> None:
        """Take what counts.

        Args:
            snapshots: counts, and tells what is stored.
            now_s: a clock that only goes forward [s].
            later: does something after some time.
        """
        self._snapshots = snapshots
        self._now_s = now_s
        self._later = later
        self._callers: dict[tuple[str, int], _Caller] = {}
        self._watched: list[_Caller] = []
        self._watching = threading.Lock()

    def count(self, partition: str, window: int, limit: int) -> int | None:
        """Count one more request; how many now [count], or None with none left.

        Raises:
            StorageUnavailable: it cannot be counted.
        """
        caller = self._of(partition, window)
        if not caller.turn.acquire(timeout=GOOD_FOR_S):
            told = self._count(caller, limit, 1)  # another waits for the storage
            return told and told.number
        try:
            if not self._may_go_on(caller) and not self._ask(caller, limit):
                return None
            caller.left -= 1
            return caller.told and caller.told.number - caller.left
        finally:
            caller.turn.release()

    def give_back(self, *, all_of_it: bool = False) -> None:
        """Take back what was counted and nobody came for in time, or all there is."""
        with self._watching:
            watched, self._watched = self._watched, []
        for caller in watched:
            with caller.turn:
                if caller.left and (all_of_it or self._now_s() >= caller.until):
                    with suppress(StorageUnavailable):
                        self._uncount(caller)
                caller.watched = False
                over = self._now_s() >= caller.until + _LONGEST_WINDOW_S
                if caller.left and not over and not all_of_it:
                    self._watch(caller)

    def _of(self, partition: str, window: int) -> _Caller:
        known = self._callers.get((partition, window))
        if known is None:
            if len(self._callers) >= _MOST_CALLERS:
                self._callers.clear()
            new = _Caller(partition=partition, window=window)
            known = self._callers.setdefault((partition, window), new)
        return known

    def _may_go_on(self, caller: _Caller) -> bool:
        """Whether one is left, and what was stored then is stored still."""
        return bool(
            caller.left
            and caller.told
            and self._now_s() < caller.until
            and self._snapshots.agree(caller.told)
        )

    def _ask(self, caller: _Caller, limit: int) -> bool:
        """Have some more counted; whether there is one."""
        now = self._now_s()
        more = max(1, caller.expected(now, limit) - caller.left)
        told = self._count(caller, limit, more)
        if told is None and more > 1:
            more = 1
            told = self._count(caller, limit, more)
        if told is None:
            self._snapshots.doubt()  # nothing was told, and one may be left
            return caller.left > 0
        caller.counted(told, more, now)
        if caller.left > 1:
            self._watch(caller)
        return True

    def _watch(self, caller: _Caller) -> None:
        if caller.watched:
            return
        caller.watched = True
        with self._watching:
            self._watched.append(caller)
            first = len(self._watched) == 1
        if first:
            self._later(GIVEN_BACK_AFTER_S, self.give_back)

    def _count(self, caller: _Caller, limit: int, more: int) -> CountedInView | None:
        return self._snapshots.count(
            caller.partition, window=caller.window, limit=limit, number=more
        )

    def _uncount(self, caller: _Caller) -> None:
        self._snapshots.storage.uncount(
            caller.partition, window=caller.window, number=caller.left
        )
        caller.left = 0
