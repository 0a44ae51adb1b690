"""Access keys: shown once, checked without a trace, revoked at once everywhere."""

from __future__ import annotations

import re
import sqlite3
from contextlib import closing
from datetime import timedelta

import pytest

from api.ports import Conflict, NotAuthenticated, NotFound, StorageUnavailable
from api.services import Keys, Snapshots
from pricing.errors import InvalidInput

TOKEN = re.compile(r"fw_(bench|shop|window)_[0-9a-f]{16}_[A-Za-z0-9_-]{43}")


@pytest.fixture
def keys(storage, clock):
    return Keys(Snapshots(storage, clock), clock)


def swapped(token, part, text):
    parts = token.split("_", 3)
    parts[part] = text
    return "_".join(parts)


@pytest.mark.parametrize("scope", ["bench", "shop", "window"])
def test_a_new_key_opens_its_own_scope(keys, clock, scope):
    record, token = keys.create(scope, "  Bench laptop ")
    assert TOKEN.fullmatch(token)
    assert token.startswith(f"fw_{scope}_{record.id}_")
    assert (record.scope, record.label, record.created_at) == (
        scope,
        "Bench laptop",
        clock.now(),
    )
    assert keys.authenticate(token) == record


def test_keys_differ_in_id_and_secret(keys):
    made = [keys.create("shop", "Shop")[1].split("_", 3) for _ in range(20)]
    assert len({parts[2] for parts in made}) == len({parts[3] for parts in made}) == 20


@pytest.mark.parametrize("scope", ["", "root", "BENCH", "bench ", "x" * 99])
def test_an_unknown_scope_is_refused(keys, scope):
    with pytest.raises(InvalidInput, match="bench, shop, window") as refused:
        keys.create(scope, "A key")
    assert refused.value.path == ("scope",)
    assert len(refused.value.message) < 120


@pytest.mark.parametrize(
    "label", ["", "   ", "x" * 201, "two\nlines", "\x1b[2Jred", "a\u202eb", "\ud800"]
)
def test_a_label_is_one_plain_line(keys, label):
    with pytest.raises(InvalidInput) as refused:
        keys.create("bench", label)
    assert refused.value.path == ("label",)
    assert keys.list() == ()


def test_every_wrong_token_gets_the_same_answer(keys):
    _, token = keys.create("bench", "Bench")
    _, other = keys.create("shop", "Shop")
    revoked, gone = keys.create("bench", "Gone")
    keys.revoke(revoked.id)
    wrong = [
        "",
        "fw",
        token[:-1],
        token + "A",
        token.upper(),
        f" {token}",
        f"{token}\n",
        swapped(token, 0, "fx"),
        swapped(token, 1, "shop"),
        swapped(token, 1, "root"),
        swapped(token, 2, "0" * 16),
        swapped(token, 3, other.split("_", 3)[3]),
        swapped(token, 3, "A" * 43),
        swapped(token, 3, "é" * 43),
        swapped(token, 2, "١" * 16),
        gone,
        "x" * 100_000,
    ]
    answers = set()
    for each in wrong:
        with pytest.raises(NotAuthenticated) as refused:
            keys.authenticate(each)
        answers.add(refused.value.message)
    assert len(answers) == 1
    assert keys.authenticate(token)


def test_a_key_revoked_elsewhere_is_refused_on_the_next_call(
    any_database, open_database, clock
):
    here, there = (
        Keys(Snapshots(open_database(any_database), clock), clock) for _ in range(2)
    )
    record, token = here.create("bench", "Bench")
    assert there.authenticate(token) == record
    here.revoke(record.id)
    with pytest.raises(NotAuthenticated):
        there.authenticate(token)


def test_a_key_made_elsewhere_is_taken_on_the_next_call(
    any_database, open_database, clock
):
    here, there = (
        Keys(Snapshots(open_database(any_database), clock), clock) for _ in range(2)
    )
    there.create("bench", "First")
    record, token = here.create("shop", "Second")
    assert there.authenticate(token) == record


def test_a_revoked_key_stays_on_the_list(keys, clock):
    record, _ = keys.create("bench", "Bench")
    clock.advance(minutes=5)
    keys.revoke(record.id)
    (listed,) = keys.list()
    assert (listed.id, listed.revoked_at) == (record.id, clock.now())


def test_keys_are_listed_oldest_first(keys, clock):
    made = []
    for label in ("one", "two", "three"):
        made.append(keys.create("bench", label)[0].id)
        clock.advance(seconds=1)
    assert [record.id for record in keys.list()] == made


def test_revoking_twice_or_nothing_is_said(keys):
    record, _ = keys.create("bench", "Bench")
    keys.revoke(record.id)
    with pytest.raises(Conflict, match="revoked already"):
        keys.revoke(record.id)
    with pytest.raises(NotFound, match="no key has this id"):
        keys.revoke("0" * 16)


def test_the_database_holds_no_secret(keys, storage):
    tokens = [keys.create(scope, "A key")[1] for scope in ("bench", "shop")]
    for token in tokens:
        keys.authenticate(token)
    with closing(sqlite3.connect(storage.engine.url.database)) as connection:
        dump = "\n".join(connection.iterdump())
    assert all(token.split("_")[2] in dump for token in tokens)  # the id is there
    for token in tokens:
        secret = token.split("_", 3)[3]
        assert secret not in dump
        assert secret.encode().hex() not in dump.lower()


def test_no_secret_is_in_a_record(keys):
    record, token = keys.create("bench", "Bench")
    assert token.split("_", 3)[3] not in repr((record, keys.list()))


def used(keys):
    (record,) = keys.list()
    return record.last_used_at


def test_a_use_is_noted_once_an_hour(keys, clock):
    _, token = keys.create("bench", "Bench")
    assert used(keys) is None
    first = clock.now()
    keys.authenticate(token)
    clock.advance(minutes=59)
    keys.authenticate(token)
    assert used(keys) == first
    clock.advance(minutes=1)
    keys.authenticate(token)
    assert used(keys) == first + timedelta(hours=1)


def test_a_use_noted_elsewhere_is_not_noted_again_within_the_hour(keys, storage, clock):
    _, token = keys.create("bench", "Bench")
    keys.authenticate(token)
    noted = clock.now()
    clock.advance(minutes=30)
    Keys(Snapshots(storage, clock), clock).authenticate(token)
    assert used(keys) == noted


def test_noting_a_use_does_not_make_others_load_anew(keys, storage):
    _, token = keys.create("bench", "Bench")
    before = storage.revisions()
    keys.authenticate(token)
    assert storage.revisions() == before


def test_a_key_works_while_its_use_cannot_be_noted(keys, storage, caplog):
    record, token = keys.create("bench", "Bench")

    def authenticate_inside(unit):
        del unit  # the write lock is held meanwhile
        return keys.authenticate(token)

    with caplog.at_level("INFO", logger="api.services.keys"):
        assert storage.write(authenticate_inside) == record
    assert used(keys) is None
    assert record.id in caplog.text
    assert token.split("_", 3)[3] not in caplog.text


def test_without_a_database_no_key_is_taken(keys, storage, monkeypatch):
    _, token = keys.create("bench", "Bench")
    keys.authenticate(token)

    def away():
        raise StorageUnavailable("the database is away")

    monkeypatch.setattr(storage, "revisions", away)
    with pytest.raises(StorageUnavailable):
        keys.authenticate(token)
