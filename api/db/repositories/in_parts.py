"""Long lists of values, some hundred to a statement."""

from __future__ import annotations

from collections.abc import Collection, Iterator
from itertools import islice
from typing import TypeVar

T = TypeVar("T")

PART = 500
"""Values in one statement: few enough for either database to plan it quickly."""


def in_parts(values: Collection[T]) -> Iterator[tuple[T, ...]]:
    """The values, some hundred at a time."""
    rest = iter(values)
    while part := tuple(islice(rest, PART)):
        yield part
