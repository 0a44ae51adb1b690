"""Faults found by the model, arranged as the messages of a document."""

from __future__ import annotations

from itertools import takewhile
from typing import Any

from pricing.errors import InvalidInput

_HERE = "_schema"


def messages_of(refused: InvalidInput) -> dict[str | int, Any]:
    """Every fault under its member, the way marshmallow nests messages.

    A member may have faults of its own and faults inside.

    >>> messages_of(InvalidInput("too small", path=("size", "size")))
    {'size': {'size': {'_schema': ['too small']}}}
    """
    messages: dict[str | int, Any] = {}
    for fault in refused.faults:
        place = messages
        # A member of that name, which only a faulty document has, cannot be nested
        # further; its fault stands at the member that holds it.
        for part in takewhile(lambda part: part != _HERE, fault.path):
            place = place.setdefault(part, {})
        place.setdefault(_HERE, []).append(fault.message)
    return messages
