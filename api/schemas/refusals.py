"""Faults found by the model, arranged as the messages of a document."""

from __future__ import annotations

from typing import Any

from pricing.errors import InvalidInput


def messages_of(refused: InvalidInput) -> dict[str | int, Any]:
    """Every fault under its member, the way marshmallow nests messages.

    >>> messages_of(InvalidInput("too small", path=("size", "size")))
    {'size': {'size': ['too small']}}
    """
    messages: dict[str | int, Any] = {}
    for fault in refused.faults:
        place = messages
        for part in fault.path[:-1]:
            place = place.setdefault(part, {})
        last = fault.path[-1] if fault.path else "_schema"
        place.setdefault(last, []).append(fault.message)
    return messages
