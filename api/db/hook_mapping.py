"""Rows of hooks, happenings and messages to values and back."""

from __future__ import annotations

import json
from dataclasses import asdict

from api.db.mapping import AnyRow, Values
from api.ports.hooks import Happening, Hook, HookMessage, Waiting


def hook_of(row: AnyRow) -> Hook:
    """A hook."""
    return Hook(
        id=row.id,
        url=row.url,
        events=tuple(json.loads(row.events)),
        secrets=tuple(json.loads(row.secrets)),
        enabled=row.enabled,
        why_disabled=row.why_disabled,
        version=row.version,
        created_at=row.created_at,
        since=row.since,
    )


def hook_values(hook: Hook) -> Values:
    """The columns of a hook; the database gives its place."""
    lists = {"events": json.dumps(hook.events), "secrets": json.dumps(hook.secrets)}
    return asdict(hook) | lists


def happening_of(row: AnyRow) -> Happening:
    """Something to be told."""
    return Happening(
        seq=row.seq,
        event=row.event,
        at=row.at,
        quote=row.quote,
        skus=tuple(json.loads(row.skus)),
        run=row.run,
        reached=row.reached,
    )


def happening_values(happening: Happening) -> Values:
    """The columns of something to be told; the database gives its place."""
    values = asdict(happening) | {"skus": json.dumps(happening.skus)}
    del values["seq"]
    return values


def message_of(row: AnyRow) -> HookMessage:
    """A message."""
    return HookMessage(
        seq=row.seq,
        id=row.id,
        hook=row.hook,
        event=row.event,
        body=row.body,
        created_at=row.created_at,
        status=row.status,
        tries=row.tries,
        due=row.due,
        answered=row.answered,
        reason=row.reason,
    )


def waiting_of(row: AnyRow) -> Waiting:
    """What waits for a hook."""
    return Waiting(
        messages=row.messages,
        tries=row.tries,
        answered=row.answered,
        reason=row.reason,
        next_try_at=row.due,
    )


def message_values(message: HookMessage) -> Values:
    """The columns of a message; the database gives its place."""
    values: Values = asdict(message)
    del values["seq"]
    return values
