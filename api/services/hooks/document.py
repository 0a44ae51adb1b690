"""Hooks and failed messages as documents; no secret is in them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict
from typing import Any

from api.ports.hooks import Hook, HookMessage, Waiting


def hook_document(hook: Hook, waits: Mapping[str, Waiting]) -> dict[str, Any]:
    """A hook, with how many secrets it has, and what of ``waits`` is for it."""
    return {
        "id": hook.id,
        "url": hook.url,
        "events": hook.events,
        "enabled": hook.enabled,
        "why_disabled": hook.why_disabled,
        "secrets": len(hook.secrets),
        "created_at": hook.created_at,
        "waiting": asdict(waits.get(hook.id, Waiting())),
    }


def failure_document(message: HookMessage) -> dict[str, Any]:
    """A message that was given up, without what it says."""
    return {
        "id": message.id,
        "event": message.event,
        "created_at": message.created_at,
        "tried_at": message.due,
        "tries": message.tries,
        "answered": message.answered,
        "reason": message.reason,
    }
