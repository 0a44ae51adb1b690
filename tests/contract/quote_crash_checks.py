"""What has to be so in a database of quotes, whenever its writer was killed."""

from __future__ import annotations

import hashlib
import json
import sqlite3
from collections import Counter
from contextlib import closing

DECIDED = ("accepted", "declined", "renewed")


def figures(quote):
    """What an answer says of a quote: enough to find any change of it."""
    return {
        "id": quote["id"],
        "number": quote["number"],
        "total": quote["total"],
        "document": hashlib.sha256(quote["document"].encode()).hexdigest(),
    }


class Kept:
    """Everything in a file, read by the plain driver."""

    def __init__(self, file):
        with closing(sqlite3.connect(file)) as connection:
            connection.row_factory = sqlite3.Row
            self.integrity = connection.execute("PRAGMA integrity_check").fetchone()[0]
            self.broken = connection.execute("PRAGMA foreign_key_check").fetchall()
            self.quotes = {
                row["id"]: dict(row)
                for row in connection.execute("SELECT * FROM quotes ORDER BY seq")
            }
            self.replays = {
                row["key"]: json.loads(row["body"])
                for row in connection.execute("SELECT key, body FROM replays")
            }
            self.audit = [
                (row["action"], row["subject"])
                for row in connection.execute(
                    "SELECT action, subject FROM audit_entries "
                    "WHERE action LIKE 'quote.%'"
                )
            ]
            found = connection.execute("SELECT sum(last) FROM quote_numbers")
            self.counted = found.fetchone()[0] or 0
            found = connection.execute(
                "SELECT count(*) FROM audit_entries WHERE action = 'database.restored'"
            )
            self.restored = found.fetchone()[0]

    def faults(self):
        """Whatever is half done, in words; nothing for a sound state."""
        yield from self._unsound()
        yield from self._successors()
        yield from self._decisions()
        yield from self._replays()
        yield from self._trail()

    def _unsound(self):
        if self.restored > 1:
            yield f"{self.restored} lines tell of a restore, and each brings one"
        if self.integrity != "ok" or self.broken:
            yield f"integrity: {self.integrity}, {len(self.broken)} broken references"
        numbers = {int(q["number"].split("-")[1]) for q in self.quotes.values()}
        if numbers != set(range(1, len(self.quotes) + 1)):
            yield f"numbers: {sorted(numbers)} of {len(self.quotes)} quotes"
        # A number that a customer holds is not given again, after a restore either.
        gone_on = self.restored and self.counted > len(self.quotes)
        if self.counted != len(self.quotes) and not gone_on:
            yield f"numbers counted: {self.counted} for {len(self.quotes)} quotes"

    def _successors(self):
        successors = Counter(q["renews"] for q in self.quotes.values() if q["renews"])
        renewed = {q["id"] for q in self.quotes.values() if q["status"] == "renewed"}
        if successors != Counter(renewed):
            yield f"renewed: {sorted(renewed)}, and renewals of {sorted(successors)}"

    def _decisions(self):
        for quote in self.quotes.values():
            decided = quote["status"] in DECIDED
            dated = quote["decided_at"] is not None
            if not decided == dated == (quote["version"] == 2):
                yield f"half decided: {quote['id']} {quote['status']}"

    def _replays(self):
        promised = Counter(answer["id"] for answer in self.replays.values())
        if promised != Counter(self.quotes.keys()):
            yield f"answers: {len(promised)} for {len(self.quotes)} quotes"
        for answer in self.replays.values():
            yield from self.differs(answer)

    def _trail(self):
        made = Counter(("quote.created", name) for name in self.quotes)
        decided = Counter(
            (f"quote.{quote['status']}", quote["id"])
            for quote in self.quotes.values()
            if quote["status"] in DECIDED
        )
        if Counter(self.audit) != made + decided:
            yield f"audit: {len(self.audit)} entries for {len(made + decided)} changes"

    def differs(self, answer):
        """The fault in an answer that is not what is kept."""
        quote = self.quotes.get(answer["id"])
        if quote is None or figures(quote) != answer:
            yield f"lost or changed: {answer['number']}"

    def lost(self, done):
        """Faults in what was acknowledged."""
        answer = done.get("answer")
        if answer is not None:
            yield from self.differs(answer)
            if self.replays.get(done["key"]) != answer:
                yield f"no answer kept: {done['key']}"
        old = self.quotes.get(done.get("quote"))
        wanted = {"accept": "accepted", "renew": "renewed"}.get(done["kind"])
        if wanted and (old is None or old["status"] != wanted):
            yield f"not {wanted}: {done['quote']}"
