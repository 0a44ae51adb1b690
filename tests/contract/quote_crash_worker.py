"""Kills processes that quote, back up and restore; says what was lost or half done.

    quote_crash_worker.py FOLDER KILLS RESTORES SEED

A child makes, accepts and renews quotes as the API does, with the answer kept in the
transaction of its effect, or backs the database up. It says on a pipe what it begins
and acknowledges what was done. It is killed somewhere in a deed that was chosen;
then everything is checked, and the next child asks again for what was cut short.
Prints a JSON report.
"""

from __future__ import annotations

import json
import os
import random
import shutil
import signal
import sys
import time
import traceback
from collections import Counter, defaultdict
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

from api.db import open_storage, upgrade
from api.db.backup_file import examine
from api.db.backups import SqlBackups
from api.ports import Answered, Conflict, Once, PreconditionFailed
from api.services.replays import Replays
from tests.contract.quote_crash_checks import Kept, figures
from tests.db.restoring import brought_back_to
from tests.services.promising import Promises

KINDS = ("create", "accept", "renew", "backup")
ROUNDS = 25
"""Kills in one database; then a new one, so that checking stays quick."""


class Clock:
    def now(self):
        return datetime.now(UTC)


class Child:
    """Does deeds for ever; acknowledges only what has returned."""

    def __init__(self, database, pipe):
        self.folder = database.parent
        self.clock = Clock()
        self.promises = Promises(open_storage(str(database)), self.clock)
        self.quotes = self.promises.quotes
        self.replays = Replays(self.promises.snapshots, self.clock)
        self.backups = SqlBackups(str(database), self.clock)
        self.pipe = pipe
        self.serial = 0

    def tell(self, **what):
        os.write(self.pipe, json.dumps(what).encode() + b"\n")

    def deed(self, kind, key=None, **about):
        """Begin, do and acknowledge; ``key`` is of one begun by a child before."""
        self.serial += 1
        begun = {"kind": kind, "key": key or f"{os.getpid()}-{self.serial}", **about}
        self.tell(begin=True, **begun)
        done = getattr(self, kind)(begun["key"], **about)
        self.tell(begin=False, **begun, **done)
        return done.get("answer", {}).get("id")

    def once(self, kind, key, work):
        def answer():
            quote = work()
            told = figures(
                {
                    "id": quote.id,
                    "number": quote.number,
                    "total": int(quote.total.scaleb(4)),
                    "document": quote.document,
                }
            )
            return Answered(status=201, body=json.dumps(told))

        once = Once(credential="k", operation=kind, key=key, fingerprint="f")
        replay = self.replays.answer(once, answer)
        return {"answer": json.loads(replay.answer.body), "again": replay.again}

    def create(self, key):
        return self.once("create", key, self.promises.create)

    def renew(self, key, quote):
        return self.once("renew", key, lambda: self.quotes.renew(quote, expected=1))

    def accept(self, key, quote):
        try:
            self.quotes.accept(quote, expected=1)
        except PreconditionFailed:
            return {"again": True}  # a child before had done so when it was killed
        return {"again": False}

    def backup(self, key):
        try:
            self.backups.make(self.folder / f"{key}.backup")
        except Conflict:
            return {"again": True}
        return {"again": False}

    def work(self, kind):
        """Deeds of one kind for ever, with what they need before."""
        while True:
            quote = self.deed("create")
            if kind == "accept":
                self.deed("accept", quote=quote)
            elif kind == "backup":
                self.deed("backup")
            elif kind == "renew":
                self.deed("renew", quote=self.deed("renew", quote=quote))


class Killer:
    """Starts children, kills them, and reads what they said."""

    def __init__(self, seed):
        self.chance = random.Random(seed)  # noqa: S311 - no secret
        self.spans = defaultdict(lambda: [0.02])
        self.kills = Counter()

    def run(self, kind, work):
        """What a child acknowledged, and what it had begun when it was killed."""
        ours, theirs = os.pipe()
        child = os.fork()
        if child == 0:
            os.close(ours)
            try:
                work(theirs)
            except BaseException:  # noqa: BLE001 - a child must never go on as parent
                traceback.print_exc()
            os._exit(1)
        os.close(theirs)
        with open(ours, "rb") as pipe:  # noqa: PTH123 - a descriptor
            said = self._until(pipe, kind, self.chance.randint(1, 2))
            typical = sorted(self.spans[kind])[len(self.spans[kind]) // 2]
            time.sleep(self.chance.uniform(0, 1.2 * typical))  # anywhere in the deed
            os.kill(child, signal.SIGKILL)
            said += [json.loads(line) for line in pipe]
        _, status = os.waitpid(child, 0)
        if not os.WIFSIGNALED(status):
            sys.exit("the child ended by itself")
        begun = said[-1] if said[-1]["begin"] else None
        self.kills[begun["kind"] if begun else "between"] += 1
        return [each for each in said if not each["begin"]], begun

    def _until(self, pipe, kind, count):
        said, since = [], 0.0
        while count:
            line = pipe.readline() or sys.exit("the child ended by itself")
            said.append(json.loads(line))
            if said[-1]["kind"] != kind:
                continue
            now = time.monotonic()
            if said[-1]["begin"]:
                count, since = count - 1, now
            else:
                self.spans[kind].append(now - since)
        return said

    def rarest(self):
        return min(KINDS, key=lambda kind: (self.kills[kind], self.chance.random()))


class Trial:
    """One database that has its writers killed."""

    def __init__(self, killer, folder, template):
        folder.mkdir()
        self.killer = killer
        self.database = folder / "fineweight.db"
        shutil.copyfile(template, self.database)
        self.done, self.faults, self.checked = [], [], set()
        self.begun = None

    def kill(self):
        kind, unfinished = self.killer.rarest(), self.begun
        kept = Kept(self.database)
        was_done = unfinished is not None and self._was_done(unfinished, kept)

        def work(pipe):
            child = Child(self.database, pipe)
            if unfinished is not None:
                child.deed(**{k: v for k, v in unfinished.items() if k != "begin"})
            child.work(kind)

        done, self.begun = self.killer.run(kind, work)
        repeated = unfinished and done and done[0]["key"] == unfinished["key"]
        if repeated and done[0]["again"] != was_done:
            self.faults.append(f"done twice or never: {unfinished}")
        self.done += done
        self._check()

    def _was_done(self, begun, kept):
        if begun["kind"] == "backup":
            return (self.database.parent / f"{begun['key']}.backup").exists()
        if begun["kind"] == "accept":
            return kept.quotes[begun["quote"]]["status"] == "accepted"
        return begun["key"] in kept.replays

    def _check(self):
        kept = Kept(self.database)
        self.faults += kept.faults()
        for done in self.done:
            self.faults += kept.lost(done)
        files = set(self.database.parent.glob("*.backup"))
        for done in self.done:
            if done["kind"] == "backup":
                file = self.database.parent / f"{done['key']}.backup"
                if file not in files:
                    self.faults.append(f"no backup: {done['key']}")
        for file in files - self.checked:
            examine(file)
            self.faults += Kept(file).faults()
            self.checked.add(file)


class RestoreTrial:
    """One database that is restored to two states in turn, and killed doing it."""

    def __init__(self, killer, folder, template):
        folder.mkdir()
        self.killer, self.folder, self.clock = killer, folder, Clock()
        self.database = folder / "fineweight.db"
        shutil.copyfile(template, self.database)
        self.faults, self.done = [], []

    def run(self, kills):
        backups = SqlBackups(str(self.database), self.clock)
        first = backups.make(self.folder / "first").file
        with Path(os.devnull).open("wb") as nobody:
            Child(self.database, nobody.fileno()).deed("create")
        second = backups.make(self.folder / "second").file
        with backups.opened(first) as one, backups.opened(second) as two:
            self.ready, self.state = {"first": one, "second": two}, "second"
            for _ in range(kills):
                self.kill()

    def kill(self):
        done, begun = self.killer.run("restore", self.work)
        self.done += done
        allowed = {done[-1]["to"] if done else self.state}
        if begun is not None:
            allowed.add(begun["to"])
        now = self._state(self.database)
        if now not in allowed:
            self.faults.append(f"{now} in place of {sorted(allowed)}")
        self.state = now
        self._check_kept(done)

    def work(self, pipe):
        serial = 0
        order = ["first", "second"]
        while True:
            for name in order if self.state == "second" else order[::-1]:
                serial += 1
                aside = self.folder / f"{os.getpid()}-{serial}.kept"
                what = {"kind": "restore", "key": aside.name, "to": name}
                os.write(pipe, json.dumps({"begin": True, **what}).encode() + b"\n")
                self._anew(self.ready[name], aside).run()
                os.write(pipe, json.dumps({"begin": False, **what}).encode() + b"\n")

    def _anew(self, ready, aside):
        """The same restore with a copy of its own, as every restore has one."""
        copy = aside.with_suffix(".ready")
        shutil.copyfile(ready.backup.file, copy)
        return replace(ready, backup=replace(ready.backup, file=copy), aside=aside)

    def _state(self, file):
        self.faults += Kept(file).faults()
        found = brought_back_to(file, told=Kept(file).restored)
        states = [n for n, each in self.ready.items() if each.contents == found]
        return states[0] if states else "neither"

    def _check_kept(self, done):
        """What was kept aside is one of the states too, and there if that was told."""
        files = {file.name: file for file in self.folder.glob("*.kept")}
        self.faults += [f"not kept: {d['key']}" for d in done if d["key"] not in files]
        for file in files.values():
            if self._state(file) == "neither":
                self.faults.append(f"half kept: {file.name}")
            file.unlink()


def make_template(file):
    """A workshop that can quote, in a file of its own."""
    storage = open_storage(str(file))
    upgrade(storage.engine)
    Promises(storage, Clock()).open()
    storage.close()


def main(folder, kills, restores, seed):
    killer = Killer(seed)
    template = folder / "template.db"
    make_template(template)
    examine(template)
    trials = []
    for number in range(kills):
        if number % ROUNDS == 0:
            trials.append(Trial(killer, folder / str(len(trials)), template))
        trials[-1].kill()
    restoring = RestoreTrial(killer, folder / "restores", template)
    restoring.run(restores)
    done = Counter(d["kind"] for t in (*trials, restoring) for d in t.done)
    report = {
        "kills": sum(killer.kills.values()),
        "killed_in": killer.kills,
        "acknowledged": done,
        "databases": len(trials) + 1,
        "backups": sum(len(trial.checked) for trial in trials),
        "faults": [fault for t in (*trials, restoring) for fault in t.faults],
    }
    print(json.dumps(report))  # noqa: T201


if __name__ == "__main__":
    main(Path(sys.argv[1]), *map(int, sys.argv[2:]))
