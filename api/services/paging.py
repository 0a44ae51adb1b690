"""One page of a list out of what was read: one entry more than the page takes."""

from __future__ import annotations

from typing import TypeVar

from pricing.errors import InvalidInput

T = TypeVar("T")

MOST_ON_A_PAGE = 100
"""Entries that may be asked for at once [count]."""


def check_limit(limit: int, *, most: int = MOST_ON_A_PAGE) -> None:
    """Raise InvalidInput unless 1 to ``most`` entries are asked for [count]."""
    if not 1 <= limit <= most:
        raise InvalidInput(
            f"limit {limit} is out of range; ask for 1 to {most}",
            path=("limit",),
        )


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
