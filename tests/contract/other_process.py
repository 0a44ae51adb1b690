"""Fetches from a pretend feed on a database that another process uses too.

    other_process.py DATABASE FEED COUNT

Prints the outcomes as a JSON list.
"""

from __future__ import annotations

import json
import sys
from datetime import timedelta

from api.db import open_storage
from tests.services.feeding import NOON, Fetchery, reading


class Clock:
    """Goes on by a minute whenever it is told to."""

    def __init__(self):
        self.time = NOON

    def now(self):
        return self.time


def main(database, feed, count):
    clock = Clock()
    fetchery = Fetchery(open_storage(database), clock)
    outcomes = []
    for minute in range(count):
        clock.time = NOON + timedelta(minutes=minute)
        said = reading("27.60", clock.now())
        outcomes.append(fetchery.fetch(said, key=feed).outcome)
    print(json.dumps(outcomes))  # noqa: T201


if __name__ == "__main__":
    main(sys.argv[1], sys.argv[2], int(sys.argv[3]))
