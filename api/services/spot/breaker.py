"""Leaving a feed alone after it has failed: three in a row, and then ever longer.

The state is what the log of fetches says, so that every process knows it.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta
from itertools import takewhile

from api.ports import FetchRecord

FAILURES = 3
"""Failures in a row after which a feed rests."""
FIRST_REST = timedelta(minutes=5)
LONGEST_REST = timedelta(hours=1)
LOOKED_AT = 8
"""Fetches that decide; with so many failures the rest is the longest."""


def rests_until(last: Sequence[FetchRecord]) -> datetime | None:
    """Until when a feed is left alone; None if it may be asked.

    The rest is 5 minutes after three failures in a row, and doubles with each
    more up to an hour. Only an asking that brought nothing to read is a failure.

    Args:
        last: the last fetches of the feed, newest first, ``LOOKED_AT`` or more.
    """
    failed = tuple(takewhile(lambda record: record.outcome == "failed", last))
    if len(failed) < FAILURES:
        return None
    doubled = FIRST_REST * (1 << (min(len(failed), LOOKED_AT) - FAILURES))
    return failed[0].at + min(doubled, LONGEST_REST)
