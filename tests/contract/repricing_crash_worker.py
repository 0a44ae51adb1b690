"""Kills processes that apply and undo repricings; says what was half in force.

    repricing_crash_worker.py FOLDER KILLS SEED  (kills amid an apply or an undo)

A child previews, applies and undoes, in chunks of a few bands, and says on a pipe what
it begins and what it has done. It is killed somewhere in a deed that was chosen. Then
every price is compared with what its run says, and the next child either asks again
for what was cut short, under the old tag, or goes on with a new preview as if nothing
had been. Some more are killed if no kill came amid the chunks, or before or after a
switch. Prints a JSON report.
"""

from __future__ import annotations

import json
import os
import shutil
import sys
from collections import Counter
from contextlib import closing
from datetime import UTC, datetime, timedelta
from decimal import Decimal
from itertools import count, cycle, islice
from pathlib import Path

from sqlalchemy import event, text

from api.db import open_storage, upgrade
from api.db.backup_file import examine
from api.ports import Place, PreconditionFailed
from tests.contract.quote_crash_worker import Killer
from tests.services.promising import BOOK
from tests.services.repricing import POLICIES, Shop

LISTINGS = 12
CHUNK = 4
"""Bands made ready in a transaction, so that an apply takes several."""
SPOTS = ("20", "36", "27.50", "45")
STATUSES = text("SELECT id, status FROM repricings")
STATUS = {"apply": "applied", "undo": "undone"}
ALL = frozenset({"applying", "applied", "undone"})
"""What killed processes are to leave behind, each at least once."""


class Clock:
    """Time by the machine, and so many minutes later for each child."""

    def __init__(self, minutes):
        self.later = timedelta(minutes=minutes)

    def now(self):
        return datetime.now(UTC) + self.later


def hurry(connection, _):
    """What a dead process has written is safe without the disk; power is not cut."""
    connection.execute("PRAGMA synchronous = OFF")


class Child:
    """Applies and undoes for ever; acknowledges only what has returned."""

    def __init__(self, database, clock, pipe):
        storage = open_storage(str(database))
        event.listen(storage.engine, "connect", hurry)
        self.shop = Shop(storage, clock, size=CHUNK)
        self.repricings = self.shop.repricings
        self.pipe = pipe

    def tell(self, **what):
        os.write(self.pipe, json.dumps(what).encode() + b"\n")

    def deed(self, kind, run, named=()):
        """Begin, do and acknowledge."""
        self.tell(begin=True, kind=kind, run=run, named=named)
        if kind == "apply":
            places = [Place(sku, Decimal(size)) for sku, size in named]
            self.repricings.apply(run, expected=1, include=places)
        else:
            self.repricings.undo(run, expected=3)
        self.tell(begin=False, kind=kind, run=run, named=named)

    def finish(self, begun):
        """Ask again for what was cut short; it may have been done."""
        run = self.repricings.get(begun["run"])
        if run.status == STATUS[begun["kind"]]:
            self.refused(begun)
        else:
            self.deed(begun["kind"], begun["run"], begun["named"])

    def refused(self, begun):
        """What is done is not done again."""
        try:
            if begun["kind"] == "apply":
                self.repricings.apply(begun["run"], expected=1)
            else:
                self.repricings.undo(begun["run"], expected=3)
        except PreconditionFailed:
            return
        raise RuntimeError(f"done twice: {begun}")

    def work(self, first):
        """Previews at other spots, applied, and every other one undone."""
        spots = cycle((*SPOTS[first % 4 :], *SPOTS[: first % 4]))
        for number, spot in enumerate(spots):
            run = self.repricings.preview(Decimal(spot))
            review = self.shop.bands(run, decision="review")
            named = [(band.sku, str(band.size_from)) for band in review[::2]]
            self.deed("apply", run.id, named)
            if number % 2 == 0:
                self.deed("undo", run.id)


class Trial:
    """One database that has those who reprice in it killed."""

    def __init__(self, killer, database):
        self.killer, self.database = killer, database
        self.faults, self.done = [], []
        self.kills, self.left = Counter(), Counter()
        self.begun, self.undoing = None, set()

    def kill(self, number):
        unfinished, clock = self.begun, Clock(10 * number)
        again = unfinished is not None and number % 2 == 0

        def work(pipe):
            child = Child(self.database, clock, pipe)
            if again:
                child.finish(unfinished)
            child.work(number)

        kind = min(STATUS, key=lambda each: self.kills[each])
        done, begun = self.killer.run(kind, work)
        if begun is not None:
            self.kills[begun["kind"]] += 1
            if begun["kind"] == "undo":
                self.undoing.add(begun["run"])
        self.done += done
        self.begun = begun
        with closing(open_storage(str(self.database))) as storage:
            self.check(Shop(storage, clock, size=CHUNK))

    def check(self, shop):
        """Every run that was touched is in force as a whole, or not at all."""
        prices = shop.prices()
        acknowledged = {each["run"]: each for each in self.done}
        if self.begun is not None:
            run = shop.repricings.get(self.begun["run"])
            self.left[run.status] += 1
            self._check_prices(shop, run, prices)
            self._check_named(shop, run, self.begun)
        elif self.done:
            last = shop.repricings.get(self.done[-1]["run"])
            self._check_prices(shop, last, prices)
        with shop.storage.engine.connect() as connection:
            found = dict(map(tuple, connection.execute(STATUSES)))
        for each in acknowledged.values():
            status = found[each["run"]]
            undone = status == "undone" and each["run"] in self.undoing
            if status != STATUS[each["kind"]] and not undone:
                self.faults.append(f"lost: {each['kind']} {each['run']} is {status}")
        if [*found.values()].count("applying") > 1:
            self.faults.append("two are being applied")

    def _check_prices(self, shop, run, prices):
        in_force = run.status == "applied"
        for band in shop.bands(run):
            wanted = band.new_price if in_force and band.moves else band.old_price
            found = prices[band.sku, band.size_from]
            if found != wanted:
                self.faults.append(f"{run.status}: {band.sku} {found}, not {wanted}")

    def _check_named(self, shop, run, begun):
        if begun["kind"] == "undo" or run.status == "preview":
            return
        named = {(sku, Decimal(size)) for sku, size in begun["named"]}
        moved = {
            (band.sku, band.size_from)
            for band in shop.bands(run, decision="review")
            if band.moves
        }
        if moved != named:
            self.faults.append(f"named {sorted(named)}, moved {sorted(moved)}")


def make_template(file):
    """A shop in which every other band goes into review."""
    with closing(open_storage(str(file))) as storage:
        upgrade(storage.engine)
        shop = Shop(storage, Clock(0))
        policy = POLICIES[0] | {"rounding": {"step": "0.01"}, "max_step": "0.08"}
        shop.books.replace(BOOK | {"policies": [policy]}, expected=None)
        shop.silver("27.50")
        asked = shop.asked(size=("7", "7"))
        for number in range(LISTINGS):
            price = asked * (1 + Decimal(number - 5) / 100)
            cents = price.quantize(Decimal("0.01"))
            shop.list(
                shop.listing(f"R{number:02}", ("7", "7", cents), ("9", "9", cents + 20))
            )


def kill_on(trial, numbers, most):
    """Kill until every state was left behind: few kills may all miss a short one."""
    for number in islice(numbers, most):
        if trial.left.keys() >= ALL:
            return
        trial.kill(number)


def main(folder, kills, seed):
    killer, database = Killer(seed), folder / "shop.db"
    template = folder / "template.db"
    make_template(template)
    shutil.copyfile(template, database)
    trial = Trial(killer, database)
    number = count()
    while trial.kills.total() < kills:
        trial.kill(next(number))
    killed_in = dict(trial.kills)
    kill_on(trial, number, 4 * kills)
    examine(database)
    report = {
        "killed_in": killed_in,
        "left": trial.left,
        "acknowledged": Counter(each["kind"] for each in trial.done),
        "faults": trial.faults,
    }
    print(json.dumps(report))  # noqa: T201


if __name__ == "__main__":
    main(Path(sys.argv[1]), *map(int, sys.argv[2:]))
