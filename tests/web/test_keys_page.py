"""The pages of keys: made and shown once, revoked; sessions; signing keys."""

from __future__ import annotations

import re
from datetime import timedelta

import pytest

from api.ports import NotAuthenticated
from api.services import passphrase

KEYS, SIGNING = "/bench/keys", "/bench/keys/signing"
BACKUP = "/bench/keys/backup"
GOOD = "fold forge bore 71 bands"
TOKEN = re.compile(r"fw_(?:bench|shop|window)_[0-9a-f]{16}_[A-Za-z0-9_-]{43}")


def make(desk, label="Web <shop>", scope="shop"):
    """The page of a new key, and the key."""
    page = desk.post(KEYS, {"label": label, "scope": scope})
    return page, TOKEN.search(page.text).group()


def test_a_key_is_shown_once_and_opens_what_it_says(desk):
    assert "No program has a key" in desk.get(KEYS).text
    page, token = make(desk)
    assert page.status_code == 200
    assert page.headers["Cache-Control"] == "no-store"
    assert "only a trace of it is kept" in page.text
    assert desk.services.keys.authenticate(token).scope == "shop"
    listed = desk.get(KEYS).text
    assert "Web &lt;shop&gt;" in listed
    assert not TOKEN.search(listed)


def test_making_a_key_twice_makes_one(desk):
    marks = desk.marks(KEYS)
    typed = {"label": "Shop", "scope": "window"} | marks
    assert TOKEN.search(desk.post(KEYS, typed).text)
    again = desk.post(KEYS, typed)
    assert again.headers["Location"] == KEYS
    assert len(desk.services.keys.list()) == 1


@pytest.mark.parametrize(
    ("typed", "field"),
    [
        ({"label": "", "scope": "shop"}, "label"),
        ({"label": "x" * 81, "scope": "shop"}, "label"),
        ({"label": "Shop", "scope": "owner"}, "scope"),
        ({"label": "Shop"}, "scope"),
    ],
)
def test_a_key_that_cannot_be_is_told_why(desk, typed, field):
    answer = desk.post(KEYS, typed)
    assert answer.status_code == 422
    assert f'href="#f-{field}"' in answer.text
    assert not desk.services.keys.list()


def test_a_revoked_key_is_refused_and_remembered(desk):
    _, token = make(desk)
    [key] = desk.services.keys.list()
    place = f"{KEYS}/{key.id}/revoke"
    page = desk.get(place).text
    assert "It was never used" in page
    marks = desk.marks(place)
    answer = desk.post(place)
    assert answer.headers["Location"] == f"{KEYS}?done=revoked"
    with pytest.raises(NotAuthenticated):
        desk.services.keys.authenticate(token)
    assert "1 revoked" in desk.get(KEYS).text
    assert "is refused" in desk.get(place).text
    again = desk.post(place, marks | {"_once": "another"})
    assert again.status_code == 409


def test_a_key_that_is_not_there_is_not_found(desk):
    assert desk.get(f"{KEYS}/{'0' * 16}/revoke").status_code == 404


def test_the_last_use_is_told(desk):
    _, token = make(desk)
    desk.services.keys.authenticate(token)
    desk.services.clock.time += timedelta(hours=5)
    assert "5 hours ago" in desk.get(KEYS).text


def test_everybody_can_be_signed_out(desk, monkeypatch):
    monkeypatch.setattr(passphrase, "_N", 2)
    assert "Sign everybody out" not in desk.get(KEYS).text
    sessions = desk.services.sessions
    sessions.set_passphrase(GOOD)
    sessions.sign_in(GOOD, new="afar", old="", address="203.0.113.9")
    assert "Sign everybody out" in desk.get(KEYS).text
    answer = desk.post(f"{KEYS}/sessions")
    assert answer.headers["Location"] == f"{KEYS}?done=ended"
    assert sessions.find("afar") is None
    assert "Everybody who had signed in" in desk.get(answer.headers["Location"]).text


def test_signing_keys_are_listed_and_replaced(desk):
    assert "There is none yet" in desk.get(SIGNING).text
    for _ in range(2):
        answer = desk.post(f"{SIGNING}/new")
        assert answer.headers["Location"] == f"{SIGNING}?done=made"
        desk.services.clock.time += timedelta(hours=1)
    page = desk.get(SIGNING).text
    new, old = desk.services.window.signing.kept()
    assert page.index(new.kid) < page.index(old.kid)
    assert "in use" in page
    assert "still checked by" in page
    assert new.private not in page
    desk.services.clock.time += timedelta(hours=26)
    assert ">retired<" in desk.get(SIGNING).text
    assert "cannot be brought back" in desk.get(f"{SIGNING}/new").text


def test_a_backup_is_saved_as_a_file(desk):
    page = desk.get(BACKUP).text
    assert "fineweight restore FILE" in page
    assert "what held prices are signed with" in page
    answer = desk.post(BACKUP)
    assert answer.data.startswith(b"SQLite format 3\x00")
    assert answer.headers["Cache-Control"] == "no-store"
    saved = answer.headers["Content-Disposition"]
    assert re.fullmatch(r'attachment; filename="fineweight\.backup\.\w+\.db"', saved)


def test_a_backup_that_cannot_go_says_what_to_do(desk, monkeypatch):
    monkeypatch.setattr("api.services.backup_file.MOST_BYTES", 1000)
    answer = desk.post(BACKUP)
    assert answer.status_code == 409
    assert "fineweight backup FILE" in answer.text
