"""One page of a list out of what was read: one entry more than the page takes."""

from __future__ import annotations

from typing import TypeVar

T = TypeVar("T")


def cut(
    found: tuple[T, ...], *, limit: int, begun: bool, back: bool
) -> tuple[tuple[T, ...], bool, bool]:
    """The entries of a page, and whether there are more after it and before it.

    Args:
        found: up to ``limit`` + 1 entries, in the order of the list.
        limit: entries of a page [count].
        begun: whether the page was asked for from a place, so that there is
            something on the side it came from.
        back: whether it was asked for towards the beginning; the one too many is
            the first then.

    >>> cut((1, 2, 3), limit=2, begun=False, back=False)
    ((1, 2), True, False)
    """
    more = len(found) > limit
    return (found[-limit:], begun, more) if back else (found[:limit], more, begun)
