from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor

import pytest

from api.ports import AuditFilter, Conflict, TooManyTries
from api.services import passphrase
from api.services.audit import Audit
from api.services.installation import Installation
from api.services.sessions import MOST_OF_ONE, Sessions
from api.services.snapshots import Snapshots
from pricing.errors import InvalidInput

GOOD = "fold forge bore 71 bands"


@pytest.fixture(autouse=True)
def quick_hash(monkeypatch):
    monkeypatch.setattr(passphrase, "_N", 2)


def sessions_on(storage, clock):
    snapshots = Snapshots(storage, clock)
    return Sessions(snapshots, clock, installation=Installation(storage))


@pytest.fixture
def sessions(any_storage, clock):
    return sessions_on(any_storage, clock)


def enter(sessions, given=GOOD, address="203.0.113.9", new="new"):
    return sessions.sign_in(given, new=new, old="old", address=address)


def test_a_browser_of_this_machine_is_known_for_a_week(sessions, clock):
    assert sessions.find("a") is None
    begun = sessions.begin_here("a")
    assert sessions.find("a") == begun
    clock.advance(days=6, hours=23)
    assert sessions.find("a").id == begun.id
    clock.advance(hours=1)
    assert sessions.find("a") is None


def test_a_session_is_known_while_its_use_cannot_be_noted(storage, clock):
    sessions = sessions_on(storage, clock)
    begun = sessions.begin_here("a")
    clock.advance(minutes=2)

    def find_inside(unit):
        del unit  # the write lock is held meanwhile
        return sessions.find("a")

    assert storage.write(find_inside) == begun
    assert sessions.find("a") == begun
    assert sessions.find("a").seen_at == clock.now()


def test_every_session_that_signed_in_is_ended_at_once(sessions, any_storage):
    sessions.set_passphrase(GOOD)
    enter(sessions, new="one")
    enter(sessions, new="two")
    sessions.begin_here("here")
    assert sessions.sign_out_everywhere() == 2
    assert [sessions.find(one) for one in ("one", "two")] == [None, None]
    assert sessions.find("here") is not None
    assert sessions.sign_out_everywhere() == 0
    told = Audit(sessions._snapshots).page(
        AuditFilter(action="sessions.ended"), limit=9
    )
    assert [entry.after for entry in told.entries] == [{"sessions": 2}]


def test_what_is_over_is_forgotten_when_another_begins(sessions, clock, any_storage):
    sessions.set_passphrase(GOOD)
    enter(sessions, new="first")
    sessions.begin_here("here")
    clock.advance(hours=2)
    sessions.begin_here("there")
    kept = [
        any_storage.read(lambda unit, d=digest: unit.sessions.get(d))
        for digest in (session_digest(name) for name in ("first", "here", "there"))
    ]
    assert [one is not None for one in kept] == [False, True, True]


def session_digest(token):
    import hashlib  # noqa: PLC0415

    return hashlib.sha256(token.encode()).hexdigest()


def test_signing_in_ends_what_the_browser_was_before(sessions):
    sessions.set_passphrase(GOOD)
    sessions.begin_here("old")
    assert enter(sessions).signed_in
    assert sessions.find("old") is None
    assert sessions.find("new").signed_in


def test_without_a_passphrase_nobody_signs_in(sessions):
    assert not sessions.has_passphrase()
    with pytest.raises(InvalidInput, match="not the passphrase"):
        enter(sessions)


def test_a_passphrase_can_be_changed_and_cleared(sessions):
    sessions.set_passphrase(GOOD)
    enter(sessions)
    sessions.set_passphrase("cone mandrel slug 4 reeded")
    assert sessions.find("new") is None
    with pytest.raises(InvalidInput):
        enter(sessions)
    sessions.clear_passphrase()
    assert not sessions.has_passphrase()
    with pytest.raises(Conflict, match="nothing to clear"):
        sessions.clear_passphrase()


def test_a_passphrase_that_is_replaced_while_it_is_judged_opens_nothing(
    sessions, monkeypatch
):
    sessions.set_passphrase(GOOD)
    judged = passphrase.is_the_one

    def slowly(given, kept):
        right = judged(given, kept)
        sessions.set_passphrase("cone mandrel slug 4 reeded")
        return right

    monkeypatch.setattr(passphrase, "is_the_one", slowly)
    with pytest.raises(InvalidInput, match="not the passphrase"):
        enter(sessions)
    assert sessions.find("new") is None


def test_many_tries_at_once_are_held_to_the_limit(sessions):
    sessions.set_passphrase(GOOD)

    def attempt(_):
        try:
            enter(sessions, "wrong")
        except (InvalidInput, TooManyTries) as error:
            return type(error)

    with ThreadPoolExecutor(8) as pool:
        met = list(pool.map(attempt, range(12)))
    assert met.count(InvalidInput) == MOST_OF_ONE
    assert met.count(TooManyTries) == 12 - MOST_OF_ONE


def test_signing_out_twice_is_told_once(sessions, any_storage, clock):
    sessions.set_passphrase(GOOD)
    enter(sessions)
    sessions.sign_out("new")
    sessions.sign_out("new")
    trail = Audit(Snapshots(any_storage, clock))
    found = trail.page(AuditFilter(action="session.ended"), limit=9).entries
    assert len(found) == 1
