"""How use cases are run: again after a collision, refused in plain words."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from pathlib import Path

import psycopg
import pytest
from sqlalchemy import event, text
from sqlalchemy.exc import OperationalError, ProgrammingError

from api.db import open_storage
from api.db.engine import WRITES, make_engine
from api.db.storage import BESIDE_OTHERS, SqlStorage
from api.db.unit_of_work import SqlUnitOfWork
from api.ports import Readiness, StorageCollision, StorageUnavailable

TRIES = {"sqlite": 3, "postgresql": 5}


class Busy(sqlite3.OperationalError):
    sqlite_errorname = "SQLITE_BUSY_SNAPSHOT"


def collision(kind):
    """What a driver says when another transaction was in the way."""
    told = {
        "sqlite": Busy("locked"),
        "postgresql": psycopg.errors.SerializationFailure(),
    }
    return OperationalError("UPDATE", {}, told[kind])


class Work:
    """Fails a number of times before it succeeds."""

    def __init__(self, error, times):
        self.error = error
        self.times = times
        self.runs = 0

    def __call__(self, unit):
        self.runs += 1
        unit.revisions.bump("coins")
        if self.runs <= self.times:
            raise self.error
        return "done"


@pytest.fixture
def retrying(any_storage):
    """A storage that notes its pauses instead of making them, and its kind."""
    pauses = []
    engine, hasty = any_storage.engine, any_storage._hasty
    return SqlStorage(engine, hasty=hasty, pause=pauses.append), pauses


def test_a_collision_is_tried_again_from_the_start(retrying):
    storage, pauses = retrying
    kind = storage.engine.dialect.name
    work = Work(collision(kind), TRIES[kind] - 1)
    assert storage.write(work) == "done"
    assert work.runs == TRIES[kind]
    assert len(pauses) == TRIES[kind] - 1
    assert all(0 <= pause < 1 for pause in pauses)
    assert storage.revisions().coins == 1


def test_collisions_without_end_are_refused_in_plain_words(retrying):
    storage, _ = retrying
    kind = storage.engine.dialect.name
    work = Work(collision(kind), 99)
    with pytest.raises(StorageUnavailable, match="try again in a moment"):
        storage.write(work)
    assert work.runs == TRIES[kind]
    assert storage.revisions().coins == 0


def test_without_waiting_there_is_one_try(retrying):
    storage, pauses = retrying
    work = Work(collision(storage.engine.dialect.name), 1)
    with pytest.raises(StorageUnavailable):
        storage.write(work, wait=False)
    assert (work.runs, pauses) == (1, [])


def test_a_failing_disk_or_server_is_not_tried_again(retrying):
    storage, pauses = retrying
    failing = OperationalError("SELECT", {}, sqlite3.OperationalError("disk I/O error"))
    work = Work(failing, 1)
    with pytest.raises(StorageUnavailable, match="cannot be used now") as refused:
        storage.write(work)
    assert (work.runs, pauses) == (1, [])
    assert "I/O" not in refused.value.message


def test_a_wrong_statement_stays_a_bug(any_storage):
    def wrong(unit):
        unit.coins._connection.execute(text("SELEC 1"))

    with pytest.raises((ProgrammingError, StorageUnavailable)) as raised:
        any_storage.read(wrong)
    if any_storage.engine.dialect.name == "postgresql":
        assert raised.type is ProgrammingError


def test_missing_tables_are_said_to_be_missing(any_database):
    with closing(open_storage(any_database)) as storage:
        with pytest.raises(StorageUnavailable, match="fineweight db upgrade"):
            storage.revisions()
        with pytest.raises(StorageUnavailable, match="fineweight db upgrade"):
            storage.read(lambda unit: unit.coins.all())
        ready = storage.readiness()
    assert ready == Readiness(database=True, schema=False, writable=True)
    assert not ready.ready


def test_a_locked_database_is_not_writable_and_says_so_at_once(storage):
    engine = make_engine(str(storage.engine.url.database))
    with engine.connect().execution_options(**{WRITES: True}) as other, other.begin():
        assert storage.readiness() == Readiness(
            database=True, schema=True, writable=False
        )
        with pytest.raises(StorageUnavailable, match="took too long"):
            storage.write(lambda unit: unit.revisions.bump("coins"), wait=False)
        assert storage.revisions().coins == 0  # readers are never blocked
    engine.dispose()


def test_a_file_that_has_gone_is_missed_and_not_begun_anew(storage):
    file = Path(storage.engine.url.database)
    storage.close()
    for each in file.parent.iterdir():
        each.unlink()
    assert storage.readiness() == Readiness(
        database=False, schema=False, writable=False
    )
    with pytest.raises(StorageUnavailable, match="cannot be used now"):
        storage.revisions()
    assert not file.exists()


def test_a_thread_that_writes_keeps_hasty_ones_out(storage):
    def write_too(unit):
        del unit
        storage.write(lambda inner: inner.revisions.bump("coins"), wait=False)

    with pytest.raises(StorageUnavailable, match="took too long"):
        storage.write(write_too)


def test_a_server_that_is_not_there_is_not_ready(tmp_path):
    nowhere = f"postgresql+psycopg://nobody@/none?host={tmp_path}"
    with closing(open_storage(nowhere)) as storage:
        assert storage.readiness() == Readiness(
            database=False, schema=False, writable=False
        )
        with pytest.raises(StorageUnavailable) as refused:
            storage.revisions()
    assert str(tmp_path) not in refused.value.message


def test_the_revisions_cost_one_statement(any_storage):
    seen = []
    event.listen(any_storage.engine, "before_cursor_execute", lambda *a: seen.append(a))
    any_storage.revisions()
    assert seen == []  # past the wrapping, in one statement of the plain driver


def test_a_count_that_collides_is_tried_again_and_counted_once(impatient, monkeypatch):
    storage, pauses = impatient
    failing = [None] * (TRIES["postgresql"] - 1)
    count = storage._counts.count

    def collide(*asked, **more):
        if failing:
            failing.pop()
            raise psycopg.errors.DeadlockDetected
        return count(*asked, **more)

    monkeypatch.setattr(storage._counts, "count", collide)
    assert storage.count("anyone", window=60, limit=9).number == 1
    assert len(pauses) == TRIES["postgresql"] - 1
    assert storage.count("anyone", window=60, limit=9).number == 2


def test_a_count_waits_once_for_the_lock_of_a_file(storage):
    hurried = make_engine(str(storage.engine.url.database), lock_wait_s=0)
    pauses = []
    with (
        closing(SqlStorage(hurried, hasty=hurried, pause=pauses.append)) as counting,
        storage.engine.connect().execution_options(**{WRITES: True}) as other,
        other.begin(),
    ):
        with pytest.raises(StorageCollision, match="took too long"):
            counting.count("anyone", window=60, limit=9)
        assert pauses == []
    assert storage.count("anyone", window=60, limit=9).number == 1


@pytest.fixture
def impatient(postgres_database, open_database):
    """A storage on PostgreSQL that waits for others for a moment only."""
    open_database(postgres_database)
    engine = make_engine(postgres_database, lock_wait_s=0.02)
    pauses = []
    with closing(SqlStorage(engine, hasty=engine, pause=pauses.append)) as storage:
        storage._hasty = make_engine(postgres_database, lock_wait_s=0, pooled=False)
        yield storage, pauses


def test_a_writer_that_goes_alone_keeps_out_writers_and_nobody_else(impatient):
    storage, pauses = impatient
    with storage.engine.begin() as other:
        other.execute(text("LOCK TABLE revisions IN SHARE ROW EXCLUSIVE MODE"))
        with pytest.raises(StorageCollision, match="try again in a moment"):
            storage.write(lambda unit: unit.revisions.bump("coins"))
        assert pauses == []  # it has waited already
        assert storage.revisions().coins == 0
        assert storage.read(lambda unit: unit.coins.all()) == ()
        assert storage.count("anyone", window=60, limit=9).number == 1
        assert storage.readiness().ready
    assert storage.write(lambda unit: unit.revisions.bump("coins")) == 1


def test_a_long_part_and_who_goes_alone_do_not_wait_for_each_other(impatient):
    storage, _ = impatient
    alone = text("LOCK TABLE revisions IN SHARE ROW EXCLUSIVE MODE")
    with storage.engine.begin() as other:
        other.execute(alone)
        assert storage.write(lambda _: "done", beside=True) == "done"

    def part(_):
        with storage.engine.begin() as other:
            other.execute(alone)
        return "done"

    assert storage.write(part, beside=True) == "done"
    with pytest.raises(StorageCollision, match="try again in a moment"):
        storage.write(part)


def test_a_long_part_that_collides_goes_alone_in_the_end(impatient, monkeypatch):
    storage, _ = impatient
    queued, failing = [], [None] * (TRIES["postgresql"] - 1)
    monkeypatch.setattr(
        SqlUnitOfWork, "queue", lambda _, *, alone: queued.append(alone)
    )

    def part(_):
        if failing:
            failing.pop()
            raise psycopg.errors.SerializationFailure
        return "done"

    assert storage.write(part, beside=True) == "done"
    assert queued == [True] * (TRIES["postgresql"] - BESIDE_OTHERS)


def test_a_count_waits_for_no_disk_and_everything_else_does(any_storage):
    kept, counted = any_storage.engine, any_storage._counts._engine
    asked, usual, hurried = {
        "sqlite": ("PRAGMA synchronous", 2, 1),  # FULL, NORMAL
        "postgresql": ("SHOW synchronous_commit", "on", "off"),
    }[kept.dialect.name]
    for engine, expected in ((kept, usual), (counted, hurried)):
        with engine.connect() as connection:
            assert connection.execute(text(asked)).scalar_one() == expected


def test_a_count_of_another_process_is_seen_at_once(any_database, open_database):
    one, other = (open_database(any_database) for _ in range(2))
    counted = [
        each.count("anyone", window=60, limit=9).number for each in (one, other) * 3
    ]
    assert counted == [1, 2, 3, 4, 5, 6]
