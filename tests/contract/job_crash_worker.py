"""Kills processes before each statement of a deed; says what was half done.

    job_crash_worker.py DATABASE STEP

Of an import of a week, and of a completion by hand, one child after another is killed
before its first statement, one STEP further on and so to the commit, until one ends
alive.
After each kill everything must be as it was before. Prints a JSON report.
"""

from __future__ import annotations

import json
import os
import signal
import sys
from contextlib import closing
from datetime import UTC, datetime

from sqlalchemy import event, text

from api.db import open_storage, upgrade
from tests.services.logbook import Logbook, attempt
from tests.services.promising import ask

TABLES = (
    "job_attempts", "job_coins", "job_lines", "job_numbers", "job_stages", "jobs",
    "audit_entries",
)  # fmt: skip
MOST = 60
"""Statements that a deed has at the very most."""
_HEADER = "job,outcome,stage,minutes:fold,coins,coin_cost,completed_at"


class Clock:
    def now(self):
        return datetime.now(UTC)


def state(database):
    """Every row there is."""
    with closing(open_storage(database)) as storage, storage.engine.connect() as told:
        return {
            name: sorted(map(repr, told.execute(text(f"SELECT * FROM {name}"))))  # noqa: S608
            for name in TABLES
        }


def child(database, deed, fatal):
    """Do a deed, and die before its statement of this number."""
    storage = open_storage(database)
    seen = [0]

    def step(*_):
        seen[0] += 1
        if seen[0] == fatal:
            os.kill(os.getpid(), signal.SIGKILL)

    logbook = Logbook(storage, Clock())
    logbook.books.current()
    event.listen(storage.engine, "before_cursor_execute", step)
    event.listen(storage.engine, "commit", step)
    deed(logbook)


def killed(database, deed, fatal):
    """Whether a child was killed, and did not come to its end."""
    process = os.fork()
    if process == 0:
        try:
            child(database, deed, fatal)
        except BaseException as error:  # noqa: BLE001 - a child must never go on as parent
            sys.stderr.write(f"{error!r}\n")
            os._exit(1)
        os._exit(0)
    _, status = os.waitpid(process, 0)
    if os.WIFSIGNALED(status):
        return True
    if os.WEXITSTATUS(status):
        sys.exit("a child failed")
    return False


def trial(database, deed, step):
    """Kill at every step; how often, what was half done, what was done."""
    before, faults = state(database), []
    for kills, fatal in enumerate(range(1, MOST, step)):
        if not killed(database, deed, fatal):
            after = state(database)
            return {"kills": kills, "faults": faults, "done": after != before}
        now = state(database)
        faults += [f"{fatal}: {name}" for name in TABLES if now[name] != before[name]]
    sys.exit("the deed has no end")


def main():
    database, step = sys.argv[1], int(sys.argv[2])
    with closing(open_storage(database)) as storage:
        upgrade(storage.engine)
        logbook = Logbook(storage, Clock()).open()
        quotes = [logbook.accepted(ask()) for _ in range(3)]
        job = logbook.opened(ask())
        logbook.attempts.add(job.id, attempt())
    rows = [
        f"{quote.number},{end},8.5,1,17.2,2026-11-20"
        for quote in quotes
        for end in ("scrapped,fold", "good,")
    ]
    file = "\n".join((_HEADER, *rows)).encode()
    deeds = {
        "import": lambda logbook: logbook.files.import_csv(file),
        "complete": lambda logbook: logbook.jobs.complete(job.id, expected=None),
    }
    report = {name: trial(database, deed, step) for name, deed in deeds.items()}
    sys.stdout.write(json.dumps(report))


if __name__ == "__main__":
    main()
