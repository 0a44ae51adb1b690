from __future__ import annotations

import json
import logging
import multiprocessing
import os
import sqlite3
import stat
import tempfile
import time
from contextlib import closing, contextmanager
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from requests_cache.models.response import CachedResponse

from api.feeds.cache_file import MOST_IN_MEMORY, CacheFile, FeedCache

USEFUL = timedelta(hours=1)
NOBODY = 65534


def answer(body=b"27.50", *, age=timedelta(0)):
    made = CachedResponse(
        status_code=200, url="https://a.example/", expires=datetime.now(UTC) - age
    )
    made._content = body
    return made


@pytest.fixture
def path(tmp_path):
    return tmp_path / "below" / "answers.db"


@contextmanager
def locked(path):
    """Another process's lock, as far as SQLite can tell."""
    with closing(sqlite3.connect(path, isolation_level=None)) as other:
        other.execute("BEGIN EXCLUSIVE")
        yield


@contextmanager
def at_once(seconds):
    began = time.monotonic()
    yield
    assert time.monotonic() - began < seconds


def test_an_answer_is_found_again_by_another_process(path):
    CacheFile(path, useful=USEFUL)["a"] = answer()
    again = CacheFile(path, useful=USEFUL)["a"]
    assert again.content == b"27.50"
    assert again.status_code == 200
    assert list(CacheFile(path, useful=USEFUL)) == ["a"]


def test_using_a_new_file_is_nothing_to_tell(path, caplog):
    kept = CacheFile(path, useful=USEFUL)
    assert kept.get("a") is None
    kept["a"] = answer()
    assert len(kept) == 1
    assert caplog.records == []


def test_a_file_that_is_there_but_empty_is_filled(path, caplog):
    path.parent.mkdir()
    path.touch()
    assert CacheFile(path, useful=USEFUL).get("a") is None
    assert caplog.records == []


def test_the_file_is_the_owners_alone_and_lets_readers_pass(path):
    CacheFile(path, useful=USEFUL)["a"] = answer()
    assert stat.S_IMODE(path.stat().st_mode) == 0o600
    with closing(sqlite3.connect(path)) as other:
        assert other.execute("PRAGMA journal_mode").fetchone() == ("wal",)


def test_the_file_holds_text_and_no_pickles(path):
    CacheFile(path, useful=USEFUL)["a"] = answer()
    with closing(sqlite3.connect(path)) as other:
        (text,) = other.execute("SELECT answer FROM feed_answers").fetchone()
    assert json.loads(text)["status_code"] == 200


def test_what_is_no_longer_of_use_goes_with_the_next_answer(path):
    kept = CacheFile(path, useful=USEFUL)
    kept["old"] = answer(age=USEFUL + timedelta(seconds=1))
    kept["new"] = answer()
    assert list(kept) == ["new"]
    assert len(kept) == 1


def test_an_answer_can_be_forgotten(path):
    kept = CacheFile(path, useful=USEFUL)
    kept["a"] = answer()
    del kept["a"]
    del kept["never there"]
    with pytest.raises(KeyError):
        kept["a"]


def test_memory_alone_will_do_and_is_bounded():
    kept = CacheFile(None, useful=USEFUL)
    for n in range(MOST_IN_MEMORY + 1):
        kept[str(n)] = answer(str(n).encode())
    assert len(kept) == MOST_IN_MEMORY
    assert kept["1"].content == b"1"
    with pytest.raises(KeyError):
        kept["0"]
    del kept["1"]
    assert "1" not in kept


def test_a_locked_file_costs_no_more_than_its_patience(path):
    kept = CacheFile(path, useful=USEFUL, patience_s=0.02)
    kept["a"] = answer(b"old")
    with locked(path), at_once(1):
        assert kept["a"].content == b"old"  # readers pass
        kept["a"] = answer(b"new")
        assert kept["a"].content == b"new"  # from memory
    kept["a"] = answer(b"newest")
    assert CacheFile(path, useful=USEFUL)["a"].content == b"newest"


def _hold(path, locked_now, done):
    with locked(path):
        locked_now.set()
        done.wait(30)


def test_a_lock_of_another_process_is_not_waited_for(path):
    kept = CacheFile(path, useful=USEFUL, patience_s=0.02)
    kept["a"] = answer()
    start = multiprocessing.get_context("spawn")
    locked_now, done = start.Event(), start.Event()
    other = start.Process(target=_hold, args=(path, locked_now, done))
    other.start()
    try:
        assert locked_now.wait(30)
        with at_once(1):
            kept["b"] = answer(b"mine")
            assert kept["b"].content == b"mine"
        assert "b" not in CacheFile(path, useful=USEFUL)
    finally:
        done.set()
        other.join()


def test_a_file_that_is_locked_before_it_has_tables_is_no_trouble(path):
    path.parent.mkdir()
    path.touch()
    kept = CacheFile(path, useful=USEFUL, patience_s=0.02)
    with locked(path), at_once(1):
        kept["a"] = answer()
        assert kept["a"].content == b"27.50"


@contextmanager
def unprivileged():
    """Rights of a file do not hold for root."""
    root = os.geteuid() == 0
    if root:
        os.seteuid(NOBODY)
    try:
        yield
    finally:
        if root:
            os.seteuid(0)


@pytest.mark.skipif(not hasattr(os, "seteuid"), reason="has no users to change to")
@pytest.mark.parametrize("folder_mode", [0o555, 0o777])
def test_a_read_only_file_is_read_at_most(folder_mode):
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "answers.db"
        CacheFile(path, useful=USEFUL)["a"] = answer(b"old")
        path.chmod(0o444)
        Path(folder).chmod(folder_mode)
        kept = CacheFile(path, useful=USEFUL)
        with unprivileged(), at_once(1):
            kept["b"] = answer(b"new")
            assert kept["b"].content == b"new"
            assert kept.get("a") is None or kept["a"].content == b"old"
        Path(folder).chmod(0o700)
        assert "b" not in CacheFile(path, useful=USEFUL)


@pytest.mark.parametrize(
    "spoil",
    [
        lambda path: path.mkdir(parents=True),
        lambda path: path.parent.write_text("a file where the folder should be"),
        lambda path: (path.parent.mkdir(), path.write_text("no database at all" * 99)),
    ],
)
def test_a_file_that_cannot_be_had_is_told_once_and_done_without(path, spoil, caplog):
    spoil(path)
    kept = CacheFile(path, useful=USEFUL)
    with caplog.at_level(logging.WARNING), at_once(1):
        kept["a"] = answer()
        assert kept["a"].content == b"27.50"
        assert list(kept) == ["a"]
    assert len(caplog.records) == 1
    assert "not used" in caplog.text


def test_somebody_elses_file_is_left_as_it_is(path):
    path.parent.mkdir()
    path.write_text("my notes" * 999)
    CacheFile(path, useful=USEFUL)["a"] = answer()
    assert path.read_text() == "my notes" * 999


@pytest.mark.parametrize(
    "text",
    [
        "",
        "{",
        "[]",
        "1",
        '"x"',
        "{}",
        '{"status_code": 200}',
        '{"status_code": "x"}',
        '{"expires": "never"}',
    ],
)
def test_a_damaged_answer_is_none(path, text):
    kept = CacheFile(path, useful=USEFUL)
    kept["a"] = answer()
    with closing(sqlite3.connect(path)) as other, other:
        other.execute("UPDATE feed_answers SET answer = ?", (text,))
    assert FeedCache(kept).get_response("a") is None
