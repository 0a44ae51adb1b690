"""A price that was held opens as it was held, and so does a quote of its format.

The database is built as the program of then left it, by the migrations of then and
the rows of ``data/quotes_of_march_2026.json``, and brought up to date.
"""

from __future__ import annotations

import json
from contextlib import closing
from datetime import UTC, datetime, timedelta

import pytest

from api.db import open_storage, upgrade
from api.db.engine import make_engine
from api.ports import KeyRecord, NotFound, QuoteExpired
from api.schemas.window_holds import WindowHoldDocument
from api.services.quotes import formats
from tests.contract.old_database import kept, rebuild
from tests.services.promising import BOOK, Promises
from tests.services.windowing import Storefront

KEPT = kept("quotes_of_march_2026")
THEN = "0007"
QUOTE, HOLD = KEPT["shown"]
OTHER_BOOK = BOOK | {"title": "The bench of today", "labour": {"rate_per_hour": "120"}}


def key(scope="window", name="0123456789abcdef"):
    then = datetime(2026, 3, 1, tzinfo=UTC)
    return KeyRecord(id=name, scope=scope, label="A page", created_at=then)


@pytest.fixture
def today(any_database, tmp_path, clock):
    """The same workshop later, with another book and no listing any more."""
    rebuild(any_database, KEPT["rows"], THEN, tmp_path / "then")
    engine = make_engine(any_database)
    done = upgrade(engine, now=clock.now())
    assert done.before == THEN
    engine.dispose()
    with closing(open_storage(any_database)) as storage:
        workshop = Promises(storage, clock)
        workshop.books.replace(OTHER_BOOK, expected=1)
        yield workshop


def test_these_quotes_are_of_the_second_format():
    rows = KEPT["rows"]["quotes"]
    assert [json.loads(row["document"])["format"] for row in rows] == [2, 2]
    assert formats.FORMAT >= 2


@pytest.mark.parametrize("shown", [QUOTE, HOLD], ids=["a quote", "a held price"])
def test_the_bench_sees_the_very_same_figures(today, shown):
    quote = today.quotes.get(shown["id"])
    assert today.quotes.document(quote) == shown | {"status": "expired"}
    with pytest.raises(QuoteExpired):
        today.quotes.accept(quote.id, expected=1)


def test_the_storefront_sees_what_it_was_told_then(today):
    holds = Storefront(today).holds
    for asking in (key(), key("shop", "another")):
        quote = holds.get(HOLD["id"], asking)
        told = WindowHoldDocument().dump(holds.shown(quote))
        assert told == KEPT["held"] | {"status": "expired"}
    for asking in (key(name="another"), None):
        with pytest.raises(NotFound):
            holds.get(HOLD["id"], asking)
    with pytest.raises(NotFound):
        holds.get(QUOTE["id"], key("shop"))


def test_it_could_be_accepted_while_it_was_held(today, clock):
    now = datetime(2026, 3, 2, 10, 30, tzinfo=UTC)
    clock.advance(seconds=(now - clock.now()) / timedelta(seconds=1))
    taken = today.quotes.accept(HOLD["id"], expected=1)
    assert (taken.status, taken.version) == ("accepted", 2)
    holds = Storefront(today).holds
    told = WindowHoldDocument().dump(holds.shown(taken))
    assert told == KEPT["held"] | {"status": "accepted"}
