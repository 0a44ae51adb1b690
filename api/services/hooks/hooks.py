"""Hooks: endpoints of others, set up by the owner."""

from __future__ import annotations

import base64
import secrets
from collections.abc import Collection, Mapping
from dataclasses import replace

from api.ports import Clock, Conflict, NotFound, PreconditionFailed, UnitOfWork
from api.ports.hooks import (
    HOOK_EVENTS,
    Hook,
    HookEvent,
    HookMessage,
    Sender,
    Waiting,
)
from api.services.audit import difference, note
from api.services.snapshots import Snapshots
from pricing.errors import InvalidInput

MOST_HOOKS = 20
SECRET_BYTES = 32
NETWORKS = "FINEWEIGHT_HOOK_NETWORKS"
HTTP = "FINEWEIGHT_HOOK_HTTP"

_REFUSALS: Mapping[str, str] = {
    "bad_url": "the URL cannot be used; it has to look like "
    "https://shop.example/hooks: a plain host name, no name and password, no # part",
    "plain_http": "the URL begins with http://, which anyone on the way can read; use "
    f"https://, or allow http with {HTTP}=on",
    "forbidden_address": "the URL leads into a private or reserved network; if it is "
    f"a machine of yours, allow its network with {NETWORKS}",
    "forbidden_port": "the port is not asked outside of allowed networks; use 443, or "
    f"allow the network with {NETWORKS}",
}


class Hooks:
    """Who is told what."""

    def __init__(self, snapshots: Snapshots, clock: Clock, *, sender: Sender) -> None:
        self._snapshots = snapshots
        self._clock = clock
        self._sender = sender

    def list(self) -> tuple[Hook, ...]:
        """Every hook, oldest first."""
        return self._snapshots.read(lambda unit: unit.hooks.all())

    def waiting(self) -> Mapping[str, Waiting]:
        """What waits, by the id of its hook; nothing where nothing does."""
        return self._snapshots.read(lambda unit: unit.hooks.waiting())

    def get(self, hook_id: str) -> Hook:
        """The hook of this id. Raises NotFound."""
        return self._snapshots.read(lambda unit: _there(unit, hook_id))

    def add(self, url: str, events: Collection[str]) -> Hook:
        """Tell an endpoint what happens from now on; the answer holds its secret.

        Raises:
            InvalidInput: the URL cannot be one, or an event is not known.
            Conflict: there are too many hooks.
        """
        now = self._clock.now()
        hook = Hook(
            id=new_id(),
            url=self._url(url),
            events=_events(events),
            secrets=(_new_secret(),),
            created_at=now,
            since=now,
        )

        def add(unit: UnitOfWork) -> Hook:
            if len(unit.hooks.all()) >= MOST_HOOKS:
                raise Conflict(f"there are {MOST_HOOKS} hooks already; remove one")
            unit.hooks.add(hook)
            note(unit, now, "hook.added", hook.id, after=_told(hook))
            return hook

        return self._snapshots.write(add)

    def change(
        self,
        hook_id: str,
        *,
        url: str,
        events: Collection[str],
        enabled: bool,
        expected: int | None = None,
    ) -> Hook:
        """Change a hook. What waits when it is switched off counts as failed.

        Raises:
            NotFound: there is no such hook.
            PreconditionFailed: it has another version than ``expected``.
            InvalidInput: as `add`.
        """
        now, url, wanted = self._clock.now(), self._url(url), _events(events)

        def change(unit: UnitOfWork) -> Hook:
            old = _expected(unit, hook_id, expected)
            new = replace(old, url=url, events=wanted, enabled=enabled)
            if new == old:
                return old
            if enabled:
                new = replace(new, why_disabled="")
            if enabled and not old.enabled:  # else what is not told yet were lost
                new = replace(new, since=now)
            if not enabled:
                unit.hooks.fail_waiting(hook_id, "disabled")
            before, after = difference(_told(old), _told(new))
            unit.hooks.replace(new, expected=old.version)
            note(unit, now, "hook.changed", hook_id, before=before, after=after)
            return _there(unit, hook_id)

        return self._snapshots.write(change)

    def remove(self, hook_id: str, *, expected: int | None = None) -> None:
        """Forget a hook and its messages. Raises as `change`."""

        def remove(unit: UnitOfWork) -> None:
            old = _expected(unit, hook_id, expected)
            unit.hooks.remove(hook_id, expected=old.version)
            now = self._clock.now()
            note(unit, now, "hook.removed", hook_id, before=_told(old))

        self._snapshots.write(remove)

    def rotate(self, hook_id: str, *, finish: bool = False) -> Hook:
        """Begin to sign with a new secret beside the old one, or drop the old one.

        Args:
            hook_id: the hook.
            finish: drop all but the newest, once the receiver knows that.

        Returns:
            The hook, with its secrets, the newest first.

        Raises:
            NotFound: there is no such hook.
            Conflict: there is nothing to finish.
        """
        fresh, now = _new_secret(), self._clock.now()

        def rotate(unit: UnitOfWork) -> Hook:
            old = _there(unit, hook_id)
            if finish and len(old.secrets) == 1:
                raise Conflict("this hook has one secret only; begin first")
            kept = old.secrets[:1] if finish else (fresh, old.secrets[0])
            unit.hooks.replace(replace(old, secrets=kept), expected=old.version)
            told = {"secrets": len(kept)}
            before = {"secrets": len(old.secrets)}
            note(unit, now, "hook.rotated", hook_id, before=before, after=told)
            return _there(unit, hook_id)

        return self._snapshots.write(rotate)

    def failures(self, hook_id: str, *, limit: int = 50) -> tuple[HookMessage, ...]:
        """Messages that were given up, oldest first. Raises NotFound."""

        def look(unit: UnitOfWork) -> tuple[HookMessage, ...]:
            return unit.hooks.failures(_there(unit, hook_id).id, limit=limit)

        return self._snapshots.read(look)

    def replay(self, hook_id: str, ids: Collection[str] | None = None) -> int:
        """Send failed messages again under their ids; how many [count].

        Args:
            hook_id: the hook.
            ids: of messages; None for all that failed.

        Raises:
            NotFound: there is no such hook.
            Conflict: it is switched off.
        """
        now = self._clock.now()

        def replay(unit: UnitOfWork) -> int:
            if not _there(unit, hook_id).enabled:
                raise Conflict("this hook is switched off; switch it on first")
            count = unit.hooks.again(hook_id, ids, now=now)
            if count:
                note(unit, now, "hook.replayed", hook_id, after={"messages": count})
            return count

        return self._snapshots.write(replay)

    def _url(self, url: str) -> str:
        refusal = self._sender.refusal(url)
        if refusal:
            raise InvalidInput(_REFUSALS[refusal], path=("url",))
        return url


def new_id() -> str:
    """The id of a new hook."""
    return secrets.token_hex(8)


def _there(unit: UnitOfWork, hook_id: str) -> Hook:
    hook = unit.hooks.get(hook_id)
    if hook is None:
        raise NotFound("no hook has this id; list the hooks to see their ids")
    return hook


def _expected(unit: UnitOfWork, hook_id: str, expected: int | None) -> Hook:
    hook = _there(unit, hook_id)
    if expected not in {None, hook.version}:
        raise PreconditionFailed(
            f"this hook is at version {hook.version}, not {expected}; read it again",
            current=hook.version,
        )
    return hook


def _events(names: Collection[str]) -> tuple[HookEvent, ...]:
    unknown = {*names} - {*HOOK_EVENTS}
    if unknown or not names:
        said = f"name one or more of {', '.join(HOOK_EVENTS)}"
        raise InvalidInput(said, path=("events",))
    return tuple(event for event in HOOK_EVENTS if event in names)


def _new_secret() -> str:
    key = base64.b64encode(secrets.token_bytes(SECRET_BYTES))
    return f"whsec_{key.decode('ascii')}"


def _told(hook: Hook) -> dict[str, object]:
    return {"url": hook.url, "events": list(hook.events), "enabled": hook.enabled}
