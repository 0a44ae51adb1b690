"""The thread of a server that delivers messages of hooks."""

from __future__ import annotations

import logging
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from threading import Event, Thread
from typing import Any

from api.ports import ServiceError

EVERY_S = 1.0
"""How often is looked whether anything is due [s]."""
PATIENCE_S = 0.25
"""How long an attempt may go on when the server ends [s]; it is made again later."""

_log = logging.getLogger(__name__)


@contextmanager
def delivering(delivery: Any, *, every_s: float = EVERY_S) -> Iterator[None]:
    """Within this, messages are delivered, by this process or another one."""
    stop = Event()
    thread = Thread(
        target=_deliver, args=(delivery, stop, every_s), name="hooks", daemon=True
    )
    thread.start()
    try:
        yield
    finally:
        stop.set()
        thread.join(PATIENCE_S)


def _deliver(delivery: Any, stop: Event, every_s: float) -> None:
    ours = False
    while not stop.is_set():
        try:
            done = delivery.run(stop.is_set)
            ours = not done.elsewhere
        except ServiceError as error:  # such as a busy database, or no price book
            _log.warning("messages of hooks have to wait: %s", error)
        except Exception:  # noqa: BLE001 - the server goes on, and so does the next attempt
            _log.exception("delivering messages of hooks failed")
        stop.wait(every_s)
    if ours:
        with suppress(ServiceError):
            delivery.release()
