"""Changes prices and tells of them in processes that are killed; a JSON report.

    hook_crash_worker.py DATABASE KILLS  (the hook is there already)

Each child changes a price, which is committed, and delivers. It is killed before
the message is sent, after it was sent and before that is written down, or at any
moment. The last child is left alone.
"""

from __future__ import annotations

import json
import os
import random
import signal
import sys
import time
from contextlib import closing
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from decimal import Decimal
from ipaddress import ip_network

from api.app import compose
from api.hooks.on_demand import SenderOnDemand
from api.services.hooks.delivery import Delivered
from api.settings import Settings
from tests.services.selling import asked, band

POINTS = ("before", "after", "any")
LEASES = timedelta(minutes=2)
"""From one child to the next, so that the lease of the killed one is over."""


class Clock:
    """The machine's, put forward."""

    def __init__(self, forward):
        self.forward = forward

    def now(self):
        return datetime.now(UTC) + self.forward


class Doomed(SenderOnDemand):
    """Sends, and kills its own process at a point."""

    point = ""

    def send(self, hook, message, *, at):
        if self.point == "before":
            os.kill(os.getpid(), signal.SIGKILL)
        sent = super().send(hook, message, at=at)
        if self.point == "after":
            os.kill(os.getpid(), signal.SIGKILL)
        return sent


def services(database, forward):
    settings = Settings(database=database)
    sender = Doomed(networks=(ip_network("127.0.0.0/8"),), plain_http=True)
    made = compose(settings, clock=Clock(forward), sender=sender)
    return made, sender


def change(made, price):
    """Give the one listing a price; from the commit on it is to be told."""
    new = asked(band(price=str(price)), published=True)
    made.listings.replace("ring-1", replace(new, sku="ring-1"))


def child(database, number, point, pipe):
    made, sender = services(database, LEASES * number)
    with closing(made):
        [old] = made.listings.get("ring-1").bands
        price = old.price
        while True:
            price += 1
            change(made, price)
            os.write(pipe, f"{price}\n".encode())
            sender.point = "" if point == "any" else point
            made.hook_delivery.run()


def killed(database, number, draw):
    """The prices that a child has told us are committed, until it was killed."""
    point = POINTS[number % len(POINTS)]
    reader, writer = os.pipe()
    pid = os.fork()
    if pid == 0:
        try:
            child(database, number, point, writer)
        finally:
            os._exit(1)  # not reached, unless something is wrong
    os.close(writer)
    with os.fdopen(reader) as pipe:
        first = pipe.readline()
        if point == "any":
            time.sleep(draw.uniform(0, 0.05))
            os.kill(pid, signal.SIGKILL)
        _, status = os.waitpid(pid, 0)
        told = [first, *pipe]
    assert os.WIFSIGNALED(status), f"the child ended by itself: {status}"
    return [Decimal(line) for line in told if line.endswith("\n")]


def main(database, kills):
    draw, told = random.Random(7), []  # noqa: S311 - no secret
    for number in range(kills):
        told += killed(database, number, draw)
    made, _ = services(database, LEASES * kills)
    with closing(made):
        while made.hook_delivery.run() != Delivered() or made.storage.read(_waiting):
            made.clock.forward += LEASES / 4
        [last] = made.listings.get("ring-1").bands
        changes = made.storage.read(_changes)
    sys.stdout.write(
        json.dumps({"told": len(told), "changes": changes, "last": str(last.price)})
    )


def _waiting(unit):
    return unit.hooks.heads()


def _changes(unit):
    from api.ports import AuditFilter  # noqa: PLC0415 - children need not wait for it

    wanted = AuditFilter(action="listing.changed")
    return len(unit.audit.page(wanted, limit=10_000, past=None))


if __name__ == "__main__":
    main(sys.argv[1], int(sys.argv[2]))
