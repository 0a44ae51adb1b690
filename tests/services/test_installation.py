"""Secrets of an installation: the same in every process, and no two alike."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from types import SimpleNamespace

import pytest

from api.services.installation import Installation


def test_a_secret_is_made_when_first_asked_for_and_stays(any_database, open_database):
    first = Installation(open_database(any_database)).secret("cursors")
    assert len(first) >= 32
    again = Installation(open_database(any_database))
    assert again.secret("cursors") == first


def test_each_purpose_has_its_own(storage):
    installation = Installation(storage)
    assert installation.secret("cursors") != installation.secret("quotas")


def test_two_installations_have_nothing_in_common(tmp_path, open_database):
    made = [
        Installation(open_database(str(tmp_path / name))).secret("cursors")
        for name in ("one.sqlite3", "two.sqlite3")
    ]
    assert made[0] != made[1]


def test_processes_that_ask_first_at_once_get_the_same(any_database, open_database):
    processes = [Installation(open_database(any_database)) for _ in range(6)]
    with ThreadPoolExecutor(len(processes)) as pool:
        found = set(pool.map(lambda one: one.secret("cursors"), processes))
    assert len(found) == 1


def test_it_is_remembered(storage, monkeypatch):
    installation = Installation(storage)
    known = installation.secret("cursors")
    monkeypatch.setattr(storage, "read", None)
    monkeypatch.setattr(storage, "write", None)
    assert installation.secret("cursors") == known


def test_one_that_is_there_and_is_not_is_a_fault():
    nowhere = SimpleNamespace(get=lambda _: None, add=lambda *_: False)
    unit = SimpleNamespace(secrets=nowhere)
    storage = SimpleNamespace(
        read=lambda work: work(unit), write=lambda work: work(unit)
    )
    with pytest.raises(LookupError, match="cursors"):
        Installation(storage).secret("cursors")


def test_one_of_another_process_a_moment_sooner_is_taken():
    nowhere = SimpleNamespace(secrets=SimpleNamespace(get=lambda _: None))
    theirs = SimpleNamespace(get=lambda _: "theirs", add=lambda *_: False)
    storage = SimpleNamespace(
        read=lambda work: work(nowhere),
        write=lambda work: work(SimpleNamespace(secrets=theirs)),
    )
    assert Installation(storage).secret("cursors") == b"theirs"
