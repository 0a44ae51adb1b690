"""Doing something in a moment, in a thread that all who want that share.

To start a thread for each would hold up who asks for it: a new one begins when the
others of a busy process let it.
"""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from queue import Empty, SimpleQueue

IDLE_S = 1.0
"""How long the thread waits for more to do before it ends [s]."""


class Soon:
    """Does things in the order they were asked for, each not before its time."""

    def __init__(self) -> None:
        self._due: SimpleQueue[tuple[float, Callable[[], None]]] = SimpleQueue()
        self._thread: threading.Thread | None = None
        self._changing = threading.Lock()

    def __call__(self, seconds: float, work: Callable[[], None]) -> None:
        """Do ``work`` after some time [s], unless the program ends before."""
        self._due.put((time.monotonic() + seconds, work))
        with self._changing:
            # One that a process was forked from does not run on in it.
            if self._thread is None or not self._thread.is_alive():
                self._thread = threading.Thread(
                    target=self._run, name="soon", daemon=True
                )
                self._thread.start()

    def _run(self) -> None:
        while True:
            try:
                due, work = self._due.get(timeout=IDLE_S)
            except Empty:
                with self._changing:
                    if self._due.empty():
                        self._thread = None
                        return
                continue
            time.sleep(max(0.0, due - time.monotonic()))
            work()


soon = Soon()
"""The one of this process."""
