"""What may become of a quote, and what is refused, by status and version."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest

from api.ports import (
    QUOTE_STATUSES,
    Conflict,
    NotFound,
    PreconditionFailed,
    QuoteDecision,
    QuoteExpired,
)
from api.services.quotes.decisions import FROM, decide

MOVES = ("accepted", "declined", "renewed")


def in_status(promises, status):
    quote = promises.create()
    if status == "expired":
        promises.clock.time = quote.valid_until
    elif status != "open":
        move(promises, quote, status)
    return promises.quotes.get(quote.id)


def move(promises, quote, to, expected=None):
    moves = {
        "accepted": promises.quotes.accept,
        "declined": promises.quotes.decline,
        "renewed": promises.quotes.renew,
    }
    return moves[to](quote.id, expected=expected)


@pytest.mark.parametrize("to", MOVES)
@pytest.mark.parametrize("status", QUOTE_STATUSES)
def test_every_move_from_every_status_is_allowed_or_refused(promises, status, to):
    quote = in_status(promises, status)
    before = len(promises.entries())
    if status in FROM[to]:
        move(promises, quote, to, expected=quote.version)
        found = promises.quotes.get(quote.id)
        assert (found.status, found.version) == (to, quote.version + 1)
        assert found.decided_at == promises.clock.now()
        return
    expired = (status, to) == ("expired", "accepted")
    with pytest.raises(Conflict, match=status if not expired else "valid until") as no:
        move(promises, quote, to)
    assert isinstance(no.value, QuoteExpired) is expired
    assert promises.quotes.get(quote.id) == quote
    assert len(promises.entries()) == before


def test_the_last_instant_counts_and_the_end_does_not(promises):
    quote, other = promises.create(), promises.create()
    promises.clock.time = quote.valid_until - timedelta(microseconds=1)
    assert promises.quotes.accept(quote.id, expected=1).status == "accepted"
    promises.clock.time = other.valid_until
    with pytest.raises(QuoteExpired, match=r"2026-12-04T12:00:00\.000Z.*renew"):
        promises.quotes.accept(other.id, expected=1)


@pytest.mark.parametrize("to", MOVES)
@pytest.mark.parametrize("expected", [0, 2, 99])
def test_another_version_than_the_one_seen_is_refused(promises, to, expected):
    quote = promises.create()
    with pytest.raises(PreconditionFailed, match=f"version 1, not {expected}") as no:
        move(promises, quote, to, expected=expected)
    assert no.value.current == 1
    assert promises.quotes.get(quote.id) == quote


def test_the_version_is_looked_at_before_the_status(promises):
    quote = promises.create()
    promises.quotes.accept(quote.id, expected=1)
    with pytest.raises(PreconditionFailed):
        promises.quotes.accept(quote.id, expected=1)
    with pytest.raises(Conflict, match=r"accepted already$"):
        promises.quotes.accept(quote.id, expected=2)


def test_what_is_over_need_not_be_declined(promises):
    quote = in_status(promises, "expired")
    with pytest.raises(Conflict, match="renew it if it is still wanted"):
        promises.quotes.decline(quote.id, expected=1)


@pytest.mark.parametrize("to", MOVES)
def test_no_quote_is_not_found(promises, to):
    quote = replace(promises.create(), id="x" * 100)
    with pytest.raises(NotFound, match=r"'x{40}'") as no:
        move(promises, quote, to)
    assert "x" * 41 not in no.value.message


def test_every_decision_leaves_one_line_with_what_changed(promises):
    quote = promises.create()
    promises.quotes.decline(quote.id, expected=1, reason=" too dear ")
    promises.clock.advance(minutes=1)
    new = promises.quotes.renew(quote.id, expected=2)
    promises.quotes.accept(new.id, expected=1)
    _, declined, renewed, created, accepted = promises.entries()
    told = {"number": quote.number, "status": "declined", "reason": "too dear"}
    assert declined == ("quote.declined", quote.id, {"status": "open"}, told)
    told = {"number": quote.number, "status": "renewed", "renewed_by": new.id}
    assert renewed == ("quote.renewed", quote.id, {"status": "declined"}, told)
    assert created[:3] == ("quote.created", new.id, None)
    assert created[3]["renews"] == quote.id
    told = {"number": new.number, "status": "accepted"}
    assert accepted == ("quote.accepted", new.id, {"status": "open"}, told)


def test_an_expired_quote_that_is_renewed_was_expired(promises):
    quote = in_status(promises, "expired")
    promises.quotes.renew(quote.id, expected=1)
    assert promises.entries()[1][2] == {"status": "expired"}


def test_a_decision_that_the_write_refuses_is_refused(promises, monkeypatch):
    quote = promises.create()
    decision = QuoteDecision(status="accepted", by="", at=promises.clock.now())

    def refused(unit):
        monkeypatch.setattr(unit.quotes, "decide", lambda *_, **__: None)
        return decide(unit, quote.id, decision, expected=1)

    with pytest.raises(Conflict, match="open and cannot be accepted; read it again"):
        promises.storage.write(refused)
    assert [action for action, *_ in promises.entries()] == ["quote.created"]
