"""Answers in CSV, every line a row.

References:
    [1] RFC 4180 §2: quoting; the lines may end in any of the usual ways.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator, Sequence
from functools import partial
from itertools import chain

from api.feeds.paths import ambiguous_path, no_such_path
from api.feeds.rows import Lookup, price_paths
from api.ports.feed_syntax import csv_column
from api.ports.feeds import Feed, FeedFailed


def csv_rows(feed: Feed, text: str) -> Iterator[Lookup]:
    """The lines of an answer that are not blank, without the header.

    One at a time: a small answer can have very many.

    Raises:
        FeedFailed: it is not CSV, or has no lines.
    """
    lines = _lines(feed, text)
    header = feed.csv.header
    names = [cell.strip() for cell in next(lines, [])] if header else []
    first = next(lines, None)
    if first is None:
        raise FeedFailed("no_rows", "The answer has no lines with figures.")
    paths = [*price_paths(feed), *([feed.time.path] if feed.time else [])]
    places = {path: _place(path, names, header=header) for path in paths}
    return (partial(_cell, row, places) for row in chain([first], lines))


def _place(path: str, names: Sequence[str], *, header: bool) -> int:
    column = csv_column(path, header=header)
    if isinstance(column, int):
        return column
    if names.count(column) > 1:
        raise ambiguous_path(path)
    if column not in names:
        raise no_such_path(path)
    return names.index(column)


def _cell(row: Sequence[str], places: dict[str, int], path: str) -> str:
    place = places[path]
    if place >= len(row):
        raise no_such_path(path)
    return row[place]


def _lines(feed: Feed, text: str) -> Iterator[list[str]]:
    reader = csv.reader(
        io.StringIO(text, newline=""), delimiter=feed.csv.delimiter, strict=True
    )
    try:
        yield from (line for line in reader if any(cell.strip() for cell in line))
    except csv.Error:
        raise FeedFailed(
            "not_csv", f"The answer is not CSV: line {reader.line_num}."
        ) from None
