"""How many bands go into one transaction, and how long others get in between."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Pace:
    """How to go about many bands without keeping others waiting.

    Attributes:
        at_once: so many bands are made ready and switched in one transaction [count].
        size: of more, so many in each of several transactions [count].
        pause_s: the rest after each of these [s].
        sleep: how to wait.
    """

    at_once: int = 10_000
    size: int = 250_000
    pause_s: float = 0.0
    sleep: Callable[[float], None] = time.sleep

    def rest(self, bands: int) -> None:
        """Let others in, in the middle of so many bands [count]."""
        if bands > self.at_once:
            self.pause()

    def pause(self) -> None:
        """Let others in, where they need it."""
        if self.pause_s:
            self.sleep(self.pause_s)


ONE_WRITER = Pace(at_once=100_000, size=8_000, pause_s=0.02)
"""Where there is one writer at a time, and who waits looks only now and then."""
MANY_WRITERS = Pace()
"""Where others write meanwhile."""
