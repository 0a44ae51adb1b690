"""Who acts: set once where a request or a command comes in, read where it is told."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Actor:
    """Who acts, and how the act came in.

    Attributes:
        by: the id of a key, or a name.
        via: ``api``, ``page`` or ``command line``; ``program`` for the program itself.
        request: id of the request, as in the log; empty where there is none.
    """

    by: str = ""
    via: str = "program"
    request: str = ""


_THE_PROGRAM = Actor()
_ACTOR: ContextVar[Actor] = ContextVar("actor", default=_THE_PROGRAM)


def actor() -> Actor:
    """Who acts now; the program itself where nobody was named."""
    return _ACTOR.get()


@contextmanager
def acting(who: Actor) -> Iterator[None]:
    """Within this, ``who`` acts."""
    token = _ACTOR.set(who)
    try:
        yield
    finally:
        _ACTOR.reset(token)
