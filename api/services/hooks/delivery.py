"""Delivering: of all processes on one database one at a time, each endpoint in order.

A message is sent outside of any transaction, and what came of it written down
afterwards. A process that ends in between leaves it waiting, and it is sent again
under its id: at least once, never not at all. While the oldest message of an
endpoint waits for its next try, its later ones wait too, so that none overtakes it.
"""

from __future__ import annotations

import random
import secrets
import time
from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import timedelta

from api.ports import Clock, UnitOfWork
from api.ports.hooks import Hook, HookMessage, Sender, Sent
from api.services.audit import note
from api.services.counting_ahead import GOOD_FOR_S
from api.services.hooks.retries import GONE, Spread, after_try
from api.services.hooks.telling import HookTelling, told_until
from api.services.snapshots import Snapshots

LEASE = timedelta(seconds=60)
"""How long nobody else delivers, from the last word of who does."""
KEPT = timedelta(days=30)
"""How long messages are kept that were delivered or given up."""
SOON = timedelta(seconds=1)
SWITCHED_OFF = "disabled"
Due = tuple[tuple[Hook, HookMessage], ...]


def never() -> bool:
    """Go on."""
    return False


def _spread() -> float:
    return random.uniform(1, 1.1)  # noqa: S311 - no secret


@dataclass(slots=True, kw_only=True)
class Delivered:
    """What came of delivering [count]; ``elsewhere`` where another process does it."""

    delivered: int = 0
    put_off: int = 0
    given_up: int = 0
    elsewhere: bool = False


class HookDelivery:
    """Tells endpoints what happened."""

    def __init__(
        self,
        snapshots: Snapshots,
        clock: Clock,
        *,
        telling: HookTelling,
        sender: Sender,
        spread: Spread = _spread,
    ) -> None:
        self._snapshots = snapshots
        self._storage = snapshots.storage
        self._clock = clock
        self._telling = telling
        self._sender = sender
        self._spread = spread
        self._holder = secrets.token_hex(8)

    def run(self, stop: Callable[[], bool] = never) -> Delivered:
        """Deliver what is due, until nothing is or ``stop`` says so."""
        done = Delivered()
        if not self._storage.read(self._is_work):
            return done
        if not self._storage.write(self._begin):
            done.elsewhere = True
            return done
        told = False
        while not stop() and self._told():
            told = True
        if told:
            # Who is told asks for it at once, maybe of a server that still answers
            # by what was stored before.
            time.sleep(GOOD_FOR_S)
        while not stop() and (due := self._storage.read(self._due)):
            for hook, message in due:
                if stop() or not self._try(hook, message, done):
                    return done
        return done

    def release(self) -> None:
        """Let another process deliver at once, and not only when the lease ends."""
        self._storage.write(lambda unit: unit.hooks.release(self._holder))

    def _is_work(self, unit: UnitOfWork) -> bool:
        if not unit.hooks.all():
            return False
        if unit.hooks.next_happening() is not None or self._due(unit):
            return True
        now = self._clock.now()
        return bool(unit.hooks.expired(after=told_until(unit, now), until=now))

    def _begin(self, unit: UnitOfWork) -> bool:
        if not self._lease(unit):
            return False
        unit.hooks.forget(before=self._clock.now() - KEPT)
        return True

    def _lease(self, unit: UnitOfWork) -> bool:
        now = self._clock.now()
        return unit.hooks.lease(self._holder, now=now, until=now + LEASE)

    def _told(self) -> bool:
        with self._snapshots.held():
            self._snapshots.take()  # so that nothing is loaded while others wait
            return self._snapshots.write(self._tell)

    def _tell(self, unit: UnitOfWork) -> bool:
        """Whether something was told, and there may be more."""
        if not self._lease(unit):
            return False
        now = self._clock.now()
        return self._telling.tell_next(unit, now) or self._telling.tell_expired(
            unit, now
        )

    def _due(self, unit: UnitOfWork) -> Due:
        now = self._clock.now()
        hooks = {hook.id: hook for hook in unit.hooks.all() if hook.enabled}
        return tuple(
            (hooks[message.hook], message)
            for message in unit.hooks.heads()
            if message.hook in hooks and message.due <= now
        )

    def _try(self, hook: Hook, message: HookMessage, done: Delivered) -> bool:
        """Whether to go on after a try: nobody else delivers now."""
        sent = self._sender.send(hook, message, at=self._clock.now())
        after, ours = self._storage.write(
            lambda unit: (self._record(unit, message, sent), self._lease(unit))
        )
        done.delivered += after == "delivered"
        done.put_off += after == "waiting"
        done.given_up += after == "failed"
        return ours

    def _record(self, unit: UnitOfWork, message: HookMessage, sent: Sent) -> str:
        """The status of the message after a try."""
        hook = unit.hooks.get(message.hook)
        if hook is None:
            return ""  # removed meanwhile, with its messages
        at = self._clock.now()
        tried = after_try(message, sent, at=at, spread=self._spread)
        if tried.status == "failed" and unit.hooks.next_happening() is not None:
            # Told first, that it is reported too; then this is tried once more.
            tried = replace(message, due=at + SOON)
        if tried.status == "waiting" and not hook.enabled:
            tried = replace(tried, status="failed")
        unit.hooks.tried(tried)
        if tried.status == "failed" and hook.enabled:
            why = "gone" if sent.status == GONE else "too_many_failures"
            off = replace(hook, enabled=False, why_disabled=why)
            unit.hooks.replace(off, expected=hook.version)
            given_up = 1 + unit.hooks.fail_waiting(hook.id, SWITCHED_OFF)
            told = {"enabled": False, "why": why, "given_up": given_up}
            before = {"enabled": True}
            note(unit, at, "hook.disabled", hook.id, before=before, after=told)
        return tried.status
