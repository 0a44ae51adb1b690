"""Which row of an answer counts: the one with the latest valid date.

Rows may come oldest or newest first, or in no order. Those without a date or
without a price (null, 0, a dash) are passed over; whatever the latest of the
others says is the price, and if that cannot be read, no older one stands in.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from datetime import UTC, datetime

from api.feeds.figures import is_missing
from api.feeds.times import moment
from api.ports.feeds import Feed, FeedFailed

Lookup = Callable[[str], object]
"""What a path leads to in one row, or in the whole answer. Raises FeedFailed."""


def price_paths(feed: Feed) -> tuple[str, ...]:
    """The paths of the figures that make the price."""
    paths = (feed.price, feed.bid, feed.ask)
    return tuple(path for path in paths if path is not None)


def time_of(feed: Feed, lookup: Lookup) -> datetime:
    """The instant of one row, in UTC.

    Raises:
        FeedFailed: it has none that can be read.
    """
    how = feed.time
    if how is None:
        raise FeedFailed(
            "no_time", "The feed's description does not say where its time is."
        )
    return moment(lookup(how.path), how)


def latest(feed: Feed, rows: Iterable[Lookup]) -> tuple[Lookup, datetime]:
    """The row that counts, and its instant in UTC.

    Raises:
        FeedFailed: no row has both a date and a price, or two rows of the
            latest date disagree.
    """
    best: Lookup | None = None
    row: Lookup | None = None
    when, agreed = datetime.min.replace(tzinfo=UTC), True
    for row in rows:
        instant = _instant(feed, row)
        if instant is None or instant < when or not _priced(feed, row):
            continue
        if best is None or instant > when:
            best, when, agreed = row, instant, True
        else:
            agreed = agreed and _prices(feed, row) == _prices(feed, best)
    if best is None:
        raise _none_valid(feed, row)
    if not agreed:
        raise FeedFailed(
            "two_answers", f"Two rows of {when:%Y-%m-%d %H:%M} UTC disagree."
        )
    return best, when


def one_row(feed: Feed, row: Lookup) -> tuple[Lookup, datetime]:
    """The only row, and its instant in UTC. Raises FeedFailed."""
    return row, time_of(feed, row)


def _none_valid(feed: Feed, last: Lookup | None) -> FeedFailed:
    """Why no row counts; the last one tells of a path that leads nowhere."""
    try:
        if last is not None:
            time_of(feed, last)
            _prices(feed, last)
    except FeedFailed as error:
        return FeedFailed(
            "no_valid_row", f"No row has both a date and a price. {error.message}"
        )
    return FeedFailed("no_valid_row", "No row has both a date and a price.")


def _instant(feed: Feed, row: Lookup) -> datetime | None:
    try:
        return time_of(feed, row)
    except FeedFailed:
        return None


def _priced(feed: Feed, row: Lookup) -> bool:
    try:
        return not any(is_missing(row(path)) for path in price_paths(feed))
    except FeedFailed:
        return False


def _prices(feed: Feed, row: Lookup) -> list[object]:
    return [row(path) for path in price_paths(feed)]
