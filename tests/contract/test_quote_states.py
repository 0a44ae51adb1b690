"""Whatever is done to quotes, in whatever order: the storage agrees with a dictionary.

At least 200 runs of 50 steps against a real SQLite file, with time, spot and price
book moving in between. See ``quote_model`` for what has to be so.
"""

from __future__ import annotations

import json
import shutil
from contextlib import closing
from datetime import UTC, datetime, timedelta
from decimal import Decimal
from functools import lru_cache
from types import SimpleNamespace

import pytest
from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import (
    Bundle,
    RuleBasedStateMachine,
    initialize,
    invariant,
    rule,
    run_state_machine_as_test,
)

from api.db import open_storage, upgrade
from api.ports import QUOTE_STATUSES, QuoteFilter, ServiceError
from api.services import price_book
from api.services.quotes.terms import QuoteTerms
from pricing.price_book.reading import read_price_book
from tests.contract.quote_model import BOOKS, LINES, SPOTS, Model
from tests.services.promising import Promises
from tests.thoroughness import thorough

RUNS, STEPS = thorough(quick=24, full=200), 50
BEGIN = datetime(2026, 12, 28, 12, tzinfo=UTC)
ROWS = """
SELECT number, status, version, renews,
       (SELECT count(*) FROM audit_entries WHERE action LIKE 'quote.%')
FROM quotes ORDER BY seq
"""
SAME = (
    *("number", "status", "version", "created_at", "valid_until", "total", "tax"),
    *("deposit", "bench_hours", "make_by", "renews", "customer_note"),
)
VERSIONS = st.sampled_from(["right", "right", "right", "stale", "any"])
HOURS = st.sampled_from([None, 1, 100, 8760])
ORDERS = ((0,), (1,), (2,), (3,), (4,), (0, 0), (0, 1), (2, 0), (4, 3), (1, 2, 3))
ASKED = st.fixed_dictionaries(
    {
        "lines": st.sampled_from(ORDERS),
        "hours": HOURS,
        "deposit": st.sampled_from([None, Decimal("0.5"), Decimal("0.333333")]),
        "note": st.sampled_from(["", "For Lily"]),
    }
)
PAUSES = st.one_of(
    st.integers(1, 7200),
    st.integers(7200, 4 * 86_400),
).map(lambda seconds: ("time", timedelta(seconds=seconds)))
MOVES = st.sampled_from(
    [*(("spot", spot) for spot in SPOTS), *(("book", i) for i in range(len(BOOKS)))]
)
CHANGES = PAUSES | PAUSES | MOVES


class QuoteMachine(RuleBasedStateMachine):
    """One run: a workshop, its model, and everything that can be done to both."""

    storage = file = template = None
    whole = 0
    outcomes: dict[str, int] = {}  # noqa: RUF012 - counted over all runs

    quotes = Bundle("quotes")

    def __init__(self):
        super().__init__()
        self.storage.close()  # of the file of before
        for each in self.file.parent.glob(f"{self.file.name}*"):
            each.unlink()
        shutil.copyfile(self.template, self.file)
        self.time = BEGIN
        self.promises = Promises(self.storage, self)
        self.service, self.model = self.promises.quotes, Model(BEGIN)
        self.documents, self.steps = {}, 0

    def now(self):
        """The clock of the services."""
        return self.time

    def _move_to(self, time):
        self.time = self.model.now = time

    def _happened(self, what):
        self.outcomes[what] = self.outcomes.get(what, 0) + 1

    @initialize(target=quotes, asked=ASKED)
    def create_the_first(self, asked):
        return self._create(**asked)

    @rule(target=quotes, asked=ASKED)
    def create(self, asked):
        return self._create(**asked)

    def _create(self, lines, hours, deposit, note):
        terms = {"customer_note": note, "deposit_share": deposit}
        made = self.service.create(
            [LINES[line] for line in lines], QuoteTerms(valid_hours=hours, **terms)
        )
        quote = self.model.add(lines, hours=hours, deposit=deposit, note=note)
        return self._kept(quote, made)

    def _kept(self, quote, made):
        quote["id"] = made.id
        self.documents[made.id] = made.document
        self._agrees(quote, made)
        return quote

    def _expected(self, quote, version):
        offset = {"right": 0, "stale": -1}.get(version)
        return None if offset is None else quote["version"] + offset

    def _try(self, quote, to, version, act):
        """What ``act`` gives, or None where it was refused as it has to be."""
        expected = self._expected(quote, version)
        refusal = self.model.refusal(quote, to, expected)
        if refusal is None:
            self._happened(to)
            return act(expected)
        with pytest.raises(ServiceError) as refused:
            act(expected)
        assert type(refused.value) is refusal
        self._happened(f"{to}: {refusal.__name__}")
        return None

    @rule(quote=quotes, version=VERSIONS)
    def accept(self, quote, version):
        done = self._try(
            quote,
            "accepted",
            version,
            lambda expected: self.service.accept(quote["id"], expected=expected),
        )
        if done is not None:
            assert self.time < quote["valid_until"]
            self.model.decide(quote, "accepted")
            self._agrees(quote, done)

    @rule(quote=quotes, version=VERSIONS, reason=st.sampled_from(["", "too wide"]))
    def decline(self, quote, version, reason):
        done = self._try(
            quote,
            "declined",
            version,
            lambda expected: self.service.decline(
                quote["id"], expected=expected, reason=reason
            ),
        )
        if done is not None:
            self.model.decide(quote, "declined", reason)
            self._agrees(quote, done)

    @rule(target=quotes, quote=quotes, version=VERSIONS, hours=HOURS)
    def renew(self, quote, version, hours):
        new = self._try(
            quote,
            "renewed",
            version,
            lambda expected: self.service.renew(
                quote["id"], expected=expected, valid_hours=hours
            ),
        )
        if new is None:
            return quote
        self.model.decide(quote, "renewed")
        renewal = self.model.add(
            quote["lines"],
            hours=hours,
            deposit=quote["share"],
            note=quote["customer_note"],
            renews=quote,
        )
        return self._kept(renewal, new)

    @rule(change=CHANGES)
    def the_world_moves(self, change):
        what, to = change
        if what == "time":
            self._move_to(self.time + to)
        elif what == "spot":
            self.promises.spots.enter("XAG", to, "EUR")
            self.model.spot = to
        else:
            version = self.promises.books.stored().about.version
            self.promises.books.replace(BOOKS[to], expected=version)
            self.model.book = to

    @rule(quote=quotes, seconds=st.sampled_from([-1, 0]))
    def wait_for_the_end(self, quote, seconds):
        end = quote["valid_until"] + timedelta(seconds=seconds)
        if self.time < end < self.time + timedelta(days=10):
            self._move_to(end)
            self._happened("at an end")

    @rule(quote=quotes)
    def read(self, quote):
        found = self.service.get(quote["id"])
        self._agrees(quote, found)
        assert self.service.find(quote["number"]) == found
        assert self.service.by_sheet(found.sheet_token) == found
        assert found.document == self.documents[found.id]
        document, sheet = self.service.document(found), self.service.sheet(found)
        assert document["status"] == sheet.status == self.model.status(quote)
        assert Decimal(document["total"]) == sheet.total == quote["total"]
        renewal = document["renewed_by"]
        assert (renewal is not None) is (quote["status"] == "renewed")
        assert renewal is None or self._of(renewal["id"])["renews"] == quote["id"]

    def _of(self, quote_id):
        return next(each for each in self.model.quotes if each["id"] == quote_id)

    @rule(
        status=st.sampled_from([None, *QUOTE_STATUSES]),
        days=st.sampled_from([None, 1, 30]),
        text=st.sampled_from(["", "Lily", "2026-", "-0002"]),
        limit=st.integers(1, 20),
        newer=st.booleans(),
    )
    def list(self, status, days, text, limit, newer):
        since = None if days is None else self.time - timedelta(days=days)
        wanted = QuoteFilter(
            now=self.time, status=status, created_from=since, text=text
        )
        found, past, more = [], None, True
        while more:
            page = self.service.page(wanted, limit=limit, past=past, newer=newer)
            ids = [quote.id for quote in page.quotes]
            found = [*ids, *found] if newer else [*found, *ids]
            more = page.newer if newer else page.older
            past = page.quotes[0 if newer else -1].seq if ids else None
        assert found == self.model.listed(status=status, since=since, text=text)

    def _agrees(self, quote, stored):
        assert {name: getattr(stored, name) for name in SAME} == {
            name: quote[name] for name in SAME
        }
        assert stored.decided_at == quote.get("decided_at")
        assert stored.reason == quote.get("reason", "")
        assert self.service.status(stored) == self.model.status(quote)

    @invariant()
    def the_rows_are_those_of_the_model(self):
        self.steps += 1
        with closing(self.storage.engine.raw_connection()) as connection:
            rows = connection.cursor().execute(ROWS).fetchall()
        names, changes = ("number", "status", "version", "renews"), self.model.changes
        assert rows == [
            (*(quote[name] for name in names), changes) for quote in self.model.quotes
        ]

    def teardown(self):
        for quote in self.model.quotes:
            self.read(quote)
        self._numbers_are_gapless()
        QuoteMachine.whole += self.steps >= STEPS

    def _numbers_are_gapless(self):
        by_year = {}
        for quote in self.model.quotes:
            year, number = quote["number"].split("-")
            by_year.setdefault(year, []).append(int(number))
        for numbers in by_year.values():
            assert numbers == list(range(1, len(numbers) + 1))


@pytest.fixture
def machine(tmp_path, monkeypatch):
    """The machine on a file of its own, which every run begins anew."""
    template, file = tmp_path / "template.sqlite3", tmp_path / "quotes.sqlite3"
    with closing(open_storage(str(template))) as storage:
        upgrade(storage.engine)
        made = Promises(storage, SimpleNamespace(now=lambda: BEGIN))
        made.books.replace(BOOKS[0], expected=None)
        made.spots.enter("XAG", SPOTS[0], "EUR")
    # The same version of the same book is one object, so that its rings are known.
    monkeypatch.setattr(price_book, "read_price_book", read_once)
    QuoteMachine.template, QuoteMachine.file, QuoteMachine.whole = template, file, 0
    QuoteMachine.outcomes.clear()
    with closing(open_storage(str(file))) as QuoteMachine.storage:
        yield QuoteMachine


def read_once(document, *, version=0):
    return _read(json.dumps(document, sort_keys=True), version)


@lru_cache(maxsize=64)
def _read(text, version):
    return read_price_book(json.loads(text), version=version)


@pytest.mark.slow
def test_quotes_agree_with_a_dictionary_whatever_is_done(machine):
    while machine.whole < RUNS:  # some runs end early
        more = max(20, RUNS - machine.whole)
        run_state_machine_as_test(
            machine,
            settings=settings(
                max_examples=more,
                stateful_step_count=STEPS + 1,
                deadline=None,
                suppress_health_check=list(HealthCheck),
            ),
        )
    met = machine.outcomes
    assert {"accepted", "declined", "renewed", "at an end"} <= met.keys()
    assert {"accepted: QuoteExpired", "accepted: Conflict"} <= met.keys()
    assert {f"{to}: PreconditionFailed" for to in ("accepted", "renewed")} <= met.keys()
