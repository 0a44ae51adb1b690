from __future__ import annotations

import shutil
from datetime import UTC, datetime
from types import SimpleNamespace

import pytest

from api.app import RESOURCES, create_app
from tests.http.fakes import SETTINGS, FakeServices, probe
from tests.http.leak_calls import Place
from tests.http.workshop import Workshop, seed


@pytest.fixture
def services():
    return FakeServices()


@pytest.fixture
def app(services):
    return create_app(SETTINGS, services, resources=(*RESOURCES, probe))


@pytest.fixture
def client(app):
    return app.test_client()


@pytest.fixture(scope="session")
def seeded(tmp_path_factory):
    """A database with a price book, a spot price and keys, and their tokens."""
    file = tmp_path_factory.mktemp("seeded") / "fineweight.sqlite3"
    return file, seed(str(file))


@pytest.fixture
def workshop(seeded, tmp_path):
    """A service on a copy of that database."""
    file, tokens = seeded
    copy = tmp_path / "fineweight.sqlite3"
    shutil.copy(file, copy)
    found = Workshop(str(copy), tokens)
    yield found
    found.close()


@pytest.fixture(scope="module")
def one_workshop(seeded, tmp_path_factory):
    """The same for a whole file, whose tests say what each request may change."""
    file, tokens = seeded
    copy = tmp_path_factory.mktemp("one") / "fineweight.sqlite3"
    shutil.copy(file, copy)
    found = Workshop(str(copy), tokens)
    yield found
    found.close()


@pytest.fixture(scope="session")
def seeded_long_ago(tmp_path_factory):
    """The same, of a day before any that a test moves its clock to."""
    file = tmp_path_factory.mktemp("long-ago") / "fineweight.sqlite3"
    long_ago = datetime(2026, 1, 5, 12, tzinfo=UTC)
    clock = SimpleNamespace(now=lambda: long_ago)
    return file, seed(str(file), clock)


@pytest.fixture
def timed_workshop(seeded_long_ago, tmp_path, clock):
    """A service at the time of a clock that only the test moves."""
    file, tokens = seeded_long_ago
    copy = tmp_path / "timed.sqlite3"
    shutil.copy(file, copy)
    found = Workshop(str(copy), tokens, clock=clock)
    yield found
    found.close()


@pytest.fixture
def bare_workshop(tmp_path):
    """A service with a bench key and nothing else."""
    found = Workshop(str(tmp_path / "bare.sqlite3"), {})
    _, found.tokens["bench"] = found.services.keys.create("bench", "The bench key")
    yield found
    found.close()


@pytest.fixture(scope="module")
def place(seeded, tmp_path_factory):
    """A workshop full of canaries, for tests that leave it as it is."""
    file, tokens = seeded
    copy = tmp_path_factory.mktemp("leaks") / "fineweight.sqlite3"
    shutil.copy(file, copy)
    workshop = Workshop(str(copy), dict(tokens))
    yield Place(workshop)
    workshop.close()
