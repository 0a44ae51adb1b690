"""Fields with a word about each, in little room."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, TypeVar

F = TypeVar("F")


def told(kind: Callable[..., F], about: str, *inner: Any, **settings: Any) -> F:
    """A field of a kind that says what it holds, and in which unit.

    Args:
        kind: the class of the field.
        about: what the description tells a reader.
        inner: what a part or a list holds.
        settings: as the field takes them.
    """
    return kind(*inner, metadata={"description": about}, **settings)
