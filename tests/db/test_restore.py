"""Backups put in the place of what is there: on each database, and across."""

from __future__ import annotations

import pytest
from sqlalchemy import text
from sqlalchemy.exc import DBAPIError

from api.db import open_storage
from api.db.backup_file import examine
from api.db.backups import SqlBackups
from api.db.copying import contents
from api.db.upgrade import newest_revision
from api.ports import AuditEntry, AuditFilter
from api.ports.backups import By
from api.services import PriceBooks, Snapshots
from tests.db.filling import add, entry, fill, quote
from tests.db.restoring import brought_back, brought_back_to


def now(storage):
    with storage.engine.connect() as connection:
        return contents(connection, newest_revision())


def restore(database, file, clock):
    clock.advance(seconds=1)
    with SqlBackups(database, clock).opened(file) as ready:
        return ready.run()


@pytest.fixture(autouse=True)
def here(tmp_path, monkeypatch):
    """Where the state from before is kept, whichever database it is of."""
    monkeypatch.chdir(tmp_path)


@pytest.fixture
def backups(any_storage, any_database, clock):
    return SqlBackups(any_database, clock)


@pytest.fixture
def full(any_storage):
    fill(any_storage.engine)
    return any_storage


def change_everything(storage):
    """Rows that go, others that come, and some that are not what they were."""
    with storage.engine.begin() as connection:
        for table in ("api_keys", "feed_secrets", "replays", "spot_prices"):
            if table == "spot_prices":
                connection.execute(text("DELETE FROM feed_fetches"))
            connection.execute(text(f"DELETE FROM {table}"))  # noqa: S608 - ours
        connection.execute(text("UPDATE coins SET revision = 5"))
        connection.execute(text("UPDATE revisions SET revision = revision + 3"))
    add(storage.engine, "quotes", quote(9), quote(10, renews="quote-9"))
    add(storage.engine, "audit_entries", entry(77))


def test_restoring_brings_back_every_row_and_keeps_the_present_ones(
    backups, full, any_database, clock, tmp_path
):
    made = backups.make()
    change_everything(full)
    changed = now(full)
    assert changed != made.contents
    done = restore(any_database, made.file, clock)
    assert brought_back(full.engine) == made.contents
    assert not done.overtaken
    assert done.kept.name.startswith("fineweight.before-restore.20261201T120001000000Z")
    assert done.kept.parent == tmp_path
    assert done.kept.stat().st_mode & 0o777 == 0o600
    assert examine(done.kept) == changed
    restore(any_database, done.kept, clock)
    assert brought_back(full.engine) == changed
    assert [path.name for path in tmp_path.glob(".*")] == []


def test_what_is_there_and_what_will_be_is_told_first(backups, full):
    made = backups.make()
    change_everything(full)
    before = now(full)
    with backups.opened(made.file) as ready:
        assert ready.schema == newest_revision()
        assert ready.contents == made.contents
        told = {each.name: each.rows for each in ready.present.contents.tables}
        assert told == {each.name: each.rows for each in before.tables}
        assert ready.present.contents.newest == before.newest
        assert ready.present.damage == ""
    assert now(full) == before


def test_from_file_to_server_and_back_every_checksum_is_equal(
    sqlite_url, postgres_database, open_database, clock, tmp_path
):
    file, server = open_database(sqlite_url), open_database(postgres_database)
    fill(file.engine)
    before = now(file)
    exported = SqlBackups(sqlite_url, clock).make(tmp_path / "exported.db")
    restore(postgres_database, exported.file, clock)
    assert brought_back(server.engine) == before
    there = now(server)
    back = SqlBackups(postgres_database, clock).make(tmp_path / "back.db")
    change_everything(file)
    restore(sqlite_url, back.file, clock)
    assert brought_back(file.engine) == there


def test_programs_that_run_see_what_was_restored_at_once(
    backups, any_storage, any_database, clock, book_document
):
    """Also where a version of the book has the number of another one."""
    snapshots = Snapshots(any_storage, clock)
    books = PriceBooks(snapshots, clock)
    books.replace(book_document, expected=None)
    first = backups.make().file
    books.replace(book_document | {"title": "The second"}, expected=1)
    second = restore(any_database, first, clock).kept
    assert books.current().version == 1
    books.replace(book_document | {"title": "Another second"}, expected=1)
    held = snapshots.take().revisions
    restore(any_database, second, clock)
    assert books.current().title == "The second"
    pairs = zip(snapshots.take().revisions, held, strict=True)
    assert all(after > before for after, before in pairs)
    assert books.replace(book_document, expected=2).version == 3


def test_what_may_never_be_removed_is_guarded_again(backups, full, any_database, clock):
    restore(any_database, backups.make().file, clock)
    for table in ("audit_entries", "quotes"):
        delete = text(f"DELETE FROM {table}")  # noqa: S608 - ours
        with (
            full.engine.begin() as connection,
            pytest.raises(DBAPIError, match="never"),
        ):
            connection.execute(delete)


FETCHED = text(
    "INSERT INTO feed_fetches (feed, at, outcome, findings, duration_ms) "
    "VALUES ('gone', '2026-12-01 12:00:00', 'failed', '[]', 1)"
)


def test_an_id_of_before_the_restore_is_not_used_again(
    backups, any_storage, any_database, clock
):
    newest = text("SELECT max(id) FROM feed_fetches")
    with any_storage.engine.begin() as connection:
        connection.execute(FETCHED)
    made = backups.make()
    with any_storage.engine.begin() as connection:
        connection.execute(FETCHED)
        connection.execute(FETCHED)
    restore(any_database, made.file, clock)
    with any_storage.engine.begin() as connection:
        assert connection.execute(newest).scalar_one() == 1
        connection.execute(FETCHED)
        assert connection.execute(newest).scalar_one() == 4


def test_a_backup_can_begin_a_new_installation(
    storage, sqlite_url, empty_postgres, clock, tmp_path
):
    fill(storage.engine)
    made = SqlBackups(sqlite_url, clock).make()
    for database in (str(tmp_path / "new" / "rings.db"), empty_postgres):
        with SqlBackups(database, clock).opened(made.file) as ready:
            assert ready.present is None
            assert ready.run().kept is None
        copied = SqlBackups(database, clock).make(tmp_path / "copy.db")
        assert brought_back_to(copied.file) == made.contents
        copied.file.unlink()


def taken_number(storage, year=2026):
    return storage.write(lambda unit: unit.quotes.next_number(year))


def test_a_quote_number_of_before_the_restore_is_not_given_to_another(
    backups, any_storage, any_database, clock
):
    """Also a year's that the backup knew nothing of, and after going back."""
    assert [taken_number(any_storage) for _ in range(2)] == [1, 2]
    made = backups.make()
    assert taken_number(any_storage) == 3
    assert taken_number(any_storage, 2027) == 1
    kept = restore(any_database, made.file, clock).kept
    assert taken_number(any_storage) == 4
    assert taken_number(any_storage, 2027) == 2
    restore(any_database, kept, clock)
    assert taken_number(any_storage) == 5
    assert taken_number(any_storage, 2027) == 3


def trail(storage):
    wanted = AuditFilter(action="database.restored")
    return storage.read(lambda unit: unit.audit.page(wanted, limit=9, past=None))


def changed(storage, clock):
    line = AuditEntry(
        at=clock.now(), by="", via="api", action="coin.changed", subject="own"
    )
    storage.write(lambda unit: unit.audit.add(line))


def test_the_trail_tells_of_the_restore_above_every_line_of_both_states(
    backups, any_storage, any_database, clock
):
    changed(any_storage, clock)
    made = backups.make()
    changed(any_storage, clock)
    changed(any_storage, clock)
    clock.advance(seconds=1)
    with SqlBackups(any_database, clock).opened(made.file) as ready:
        done = ready.run(By(name="ada", via="command line"))
    [line] = trail(any_storage)
    assert line == AuditEntry(
        id=4,
        at=clock.now(),
        by="ada",
        via="command line",
        action="database.restored",
        subject=made.file.name,
        after={"kept": done.kept.name, "schema": newest_revision()},
    )


def test_a_look_at_a_backup_leaves_no_line(backups, full):
    with backups.opened(backups.make().file):
        pass
    assert trail(full) == ()


def test_a_new_installation_kept_nothing_and_odd_names_stay_on_their_line(
    storage, sqlite_url, clock, tmp_path
):
    odd = tmp_path / "a\nb\udc80.db"
    SqlBackups(sqlite_url, clock).make().file.rename(odd)
    new = tmp_path / "new.db"
    with SqlBackups(str(new), clock).opened(odd) as ready:
        ready.run()
    opened = open_storage(str(new))
    [line] = trail(opened)
    opened.close()
    assert line.subject == r"a\nb\udc80.db"
    assert (line.by, line.via, line.after["kept"]) == ("", "program", None)
