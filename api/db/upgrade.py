"""Bringing a database to this program's schema, with a copy kept beforehand."""

from __future__ import annotations

import os
import sqlite3
import threading
from collections.abc import Iterator
from contextlib import closing, contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING

from sqlalchemy import Connection, Engine, inspect, text

from api.db.engine import OWNER_ONLY, WRITES, sqlite_file
from api.db.failures import refusals
from api.ports import StorageUnavailable

if TYPE_CHECKING:
    from alembic.config import Config

MIGRATIONS = Path(__file__).with_name("migrations")
_VERSION_TABLE = "alembic_version"
# Any fixed number: whoever holds it is the one that upgrades.
_ADVISORY_LOCK = 0x46696E65
# Alembic keeps the running migration in module globals.
_one_at_a_time = threading.Lock()


@dataclass(frozen=True, slots=True, kw_only=True)
class Upgrade:
    """What an upgrade did.

    Attributes:
        before, after: schema revisions; ``before`` is None for a new database.
        copy: the copy made of the SQLite file as it was, or None.
    """

    before: str | None
    after: str
    copy: Path | None = None

    @property
    def changed(self) -> bool:
        """Whether there was anything to do."""
        return self.before != self.after


def upgrade(
    engine: Engine, *, now: datetime | None = None, migrations: Path = MIGRATIONS
) -> Upgrade:
    """Bring the database to the newest schema, in one transaction.

    An SQLite file that already holds data is copied beside itself first. Two
    programs that upgrade at once do it one after the other.

    Args:
        engine: the database.
        now: the moment to name the copy by; the clock's by default.
        migrations: folder of the migrations.

    Raises:
        StorageUnavailable: the database is of a newer program, or was copied badly.
    """
    target = newest_revision(migrations)
    with refusals():
        before = _stored_revision(engine)
        if before == target:
            return Upgrade(before=before, after=target)
        _refuse_unknown(before, migrations)
        copy = _copy(engine, before, now or datetime.now(UTC)) if before else None
        with _upgrading(engine) as connection:
            _migrate(connection, migrations)
    return Upgrade(before=before, after=target, copy=copy)


def schema_is_current(engine: Engine) -> bool:
    """Whether the database has this program's schema."""
    return _stored_revision(engine) == newest_revision()


@cache
def newest_revision(migrations: Path = MIGRATIONS) -> str:
    """The schema revision this program works with."""
    from alembic.script import ScriptDirectory  # noqa: PLC0415 - slow to import

    script = ScriptDirectory(str(migrations))
    return script.get_current_head() or ""


def _stored_revision(engine: Engine) -> str | None:
    with engine.connect() as connection:
        if not inspect(connection).has_table(_VERSION_TABLE):
            return None
        query = text(f"SELECT version_num FROM {_VERSION_TABLE}")  # noqa: S608 - ours
        revision: str | None = connection.execute(query).scalar_one_or_none()
        return revision


def _refuse_unknown(revision: str | None, migrations: Path) -> None:
    from alembic.script import ScriptDirectory  # noqa: PLC0415 - slow to import

    known = {
        each.revision for each in ScriptDirectory(str(migrations)).walk_revisions()
    }
    if revision is not None and revision not in known:
        raise StorageUnavailable(
            f"the database has schema {revision}, which this program does not know: "
            "a newer one made it; install that, or restore an older backup"
        )


def _copy(engine: Engine, revision: str, now: datetime) -> Path | None:
    file = sqlite_file(engine)
    if file is None:
        return None  # a PostgreSQL server has its own backups
    stamp = now.astimezone(UTC).strftime("%Y%m%dT%H%M%S%fZ")
    copy = file.with_name(f"{file.stem}.before-{revision}.{stamp}{file.suffix}")
    try:
        os.close(os.open(copy, os.O_RDWR | os.O_CREAT | os.O_EXCL, OWNER_ONLY))
        with closing(sqlite3.connect(file)) as source:
            source.execute("VACUUM INTO ?", (str(copy),))
        with closing(sqlite3.connect(copy)) as check:
            (verdict,) = check.execute("PRAGMA integrity_check").fetchone()
    except (OSError, sqlite3.Error) as error:
        verdict = error
    if verdict != "ok":
        raise StorageUnavailable(
            f"no sound copy could be made before the upgrade ({verdict}); nothing was "
            "changed: see to the space and permissions of the database's folder, or "
            "restore a backup"
        )
    return copy


@contextmanager
def _upgrading(engine: Engine) -> Iterator[Connection]:
    # The transaction is open before the migrations run, so that they neither begin
    # nor end one and all is kept or none.
    with engine.connect().execution_options(**{WRITES: True}) as connection:
        if engine.dialect.name == "sqlite":
            yield from _with_loose_keys(connection)
            return
        with connection.begin():
            lock = text("SELECT pg_advisory_xact_lock(:number)")
            connection.execute(lock, {"number": _ADVISORY_LOCK})
            yield connection


def _with_loose_keys(connection: Connection) -> Iterator[Connection]:
    # A table is changed by making it anew, which its foreign keys would forbid. The
    # switch works outside a transaction only; the keys are checked before the end.
    switch = connection.connection.cursor()
    switch.execute("PRAGMA foreign_keys = OFF")
    try:
        with connection.begin():
            yield connection
            broken = connection.exec_driver_sql("PRAGMA foreign_key_check").all()
            if broken:
                raise StorageUnavailable(
                    f"the upgrade would leave {len(broken)} references without a row; "
                    "nothing was changed, report this"
                )
    finally:
        switch.execute("PRAGMA foreign_keys = ON")
        switch.close()


def _migrate(connection: Connection, migrations: Path) -> None:
    from alembic import command  # noqa: PLC0415 - slow to import

    with _one_at_a_time:
        command.upgrade(_config(connection, migrations), "head")


def _config(connection: Connection, migrations: Path) -> Config:
    from alembic.config import Config  # noqa: PLC0415 - slow to import

    config = Config()
    config.set_main_option("script_location", str(migrations).replace("%", "%%"))
    config.set_main_option("path_separator", "os")
    config.attributes["connection"] = connection
    return config
