"""Following paths into parsed JSON: to exactly one value, or to rows.

References:
    [1] RFC 6901 §4: an index has no leading zero, and "-" is the element after
        the last, which is never there to read.
    [2] RFC 9535: a query gives any number of nodes; for a price it must be one.
"""

from __future__ import annotations

from collections.abc import Iterable
from itertools import islice
from typing import Any

from jsonpath import JSONPath, JSONPathError
from jsonpointer import EndOfList, JsonPointer, JsonPointerException

from api.ports.feed_syntax import json_path
from api.ports.feeds import FeedFailed

_MOST_NODES = 100_000


def one_value(document: object, path: str) -> Any:
    """The value that ``path`` leads to in ``document``.

    Raises:
        FeedFailed: it leads to nothing, or a query to more than one value.
        InvalidInput: it is no path.

    >>> one_value({"rates": {"XAG": "27.50"}}, "/rates/XAG")
    '27.50'
    """
    way = json_path(path)
    if isinstance(way, JsonPointer):
        return _pointed(document, way, path)
    found = list(islice(_nodes(document, way), 2))
    if not found:
        raise no_such_path(path)
    if len(found) > 1:
        raise ambiguous_path(path)
    return found[0]


def many_values(document: object, path: str) -> list[Any]:
    """The rows that ``path`` leads to: the elements of one array.

    A query that could find several nodes gives those nodes themselves.

    Raises:
        FeedFailed: it leads to nothing, or to no array.
        InvalidInput: it is no path.
    """
    way = json_path(path)
    if isinstance(way, JSONPath) and not way.singular_query():
        rows = list(_nodes(document, way))
    else:
        rows = one_value(document, path)
    if not isinstance(rows, list):
        raise FeedFailed("no_rows", f"The path {path} does not lead to an array.")
    return rows


def no_such_path(path: str) -> FeedFailed:
    """That a path of the feed's description leads to nothing in the answer."""
    return FeedFailed(
        "no_such_path",
        f"The path {path or '(the whole answer)'} leads to nothing in the answer.",
    )


def ambiguous_path(path: str) -> FeedFailed:
    """That a path leads to several values, of which none is better than the others."""
    return FeedFailed(
        "ambiguous_path", f"The path {path} leads to more than one value; make it one."
    )


def _pointed(document: object, pointer: JsonPointer, path: str) -> Any:
    value = document
    try:
        for part in pointer.parts:
            value = pointer.walk(value, part)
    except (JsonPointerException, TypeError, ValueError):
        raise no_such_path(path) from None
    if isinstance(value, EndOfList):
        raise no_such_path(path)
    return value


def _nodes(document: object, query: JSONPath) -> Iterable[Any]:
    if not isinstance(document, dict | list):
        # The library would take a text for JSON and parse it.
        return [] if query.segments else [document]
    try:
        return [match.obj for match in islice(query.finditer(document), _MOST_NODES)]
    except JSONPathError:
        raise FeedFailed(
            "no_such_path", f"The query {query} cannot be followed in this answer."
        ) from None
