"""Kills a writing process over and over; says what the database lost.

    crash_writer.py DATABASE KILLS SEED

A child puts price book versions in force and acknowledges each on a pipe. It is
killed after a random number of acknowledgements, wherever it happens to be. Prints
a JSON report: kills, acknowledged and kept versions, integrity, last version.
"""

from __future__ import annotations

import json
import os
import random
import signal
import sqlite3
import sys
from contextlib import closing
from datetime import UTC, datetime

from api.db import open_storage, upgrade
from api.services import PriceBooks, Snapshots

BOOK = {
    "title": "A bench",
    "currency": "EUR",
    "timezone": "Europe/Vienna",
    "labour": {"rate_per_hour": "32.00"},
    "stages": [{"key": "punch", "title": "Punch", "removes": "slug"}],
    "channels": [{"key": "own_shop"}],
    "policies": [{"key": "retail", "target_margin": "0.35"}],
}


class Clock:
    def now(self):
        return datetime.now(UTC)


def write_for_ever(database, pipe):
    """The child: acknowledge only what `replace` has returned."""
    clock = Clock()
    storage = open_storage(database)
    books = PriceBooks(Snapshots(storage, clock), clock)
    version = storage.revisions().price_book
    while True:
        document = BOOK | {"title": f"Bench of version {version + 1}"}
        version = books.replace(document, expected=version or None).version
        os.write(pipe, f"{version}\n".encode())


def killed_after(database, acknowledgements):
    """Versions that a child acknowledged before it was killed."""
    ours, theirs = os.pipe()
    child = os.fork()
    if child == 0:
        os.close(ours)
        write_for_ever(database, theirs)
    os.close(theirs)
    with open(ours, "rb", buffering=0) as pipe:  # noqa: PTH123 - a descriptor
        told = b""
        while told.count(b"\n") < acknowledgements:
            told += pipe.read(64) or sys.exit("the child ended by itself")
        os.kill(child, signal.SIGKILL)
        told += pipe.readall()
    _, status = os.waitpid(child, 0)
    if not os.WIFSIGNALED(status):
        sys.exit("the child ended by itself")
    return [int(line) for line in told.decode().splitlines()]


def kept(database):
    """Versions in the file with the title they were written with, and its soundness."""
    with closing(sqlite3.connect(database)) as connection:
        query = "SELECT version, document FROM price_book_versions"
        rows = connection.execute(query).fetchall()
        (verdict,) = connection.execute("PRAGMA integrity_check").fetchone()
    titles = {number: json.loads(text)["title"] for number, text in rows}
    sound = {n for n, title in titles.items() if title == f"Bench of version {n}"}
    return sound, verdict


def main(database, kills, seed):
    chance = random.Random(seed)  # noqa: S311 - no secret
    storage = open_storage(database)
    upgrade(storage.engine)
    storage.close()  # before a fork: a child opens its own
    acknowledged, lost, verdicts = 0, [], set()
    for _ in range(kills):
        told = killed_after(database, chance.randint(1, 6))
        found, verdict = kept(database)
        acknowledged += len(told)
        lost += sorted(set(told) - found)
        verdicts.add(verdict)
    report = {
        "kills": kills,
        "acknowledged": acknowledged,
        "lost": lost,
        "integrity": sorted(verdicts),
        "gaps": sorted(set(range(1, len(found) + 1)) - found),
        "kept": len(found),
    }
    print(json.dumps(report))  # noqa: T201


if __name__ == "__main__":
    main(sys.argv[1], int(sys.argv[2]), int(sys.argv[3]))
