from __future__ import annotations

import shutil
from contextlib import closing

import pytest
from jinja2 import FileSystemBytecodeCache

from api.app import PAGES, compose, create_app
from api.settings import Settings
from tests.browser.bench_site import blank, fill
from tests.browser.quotes import Clock
from tests.lent_apps import give_back, lend
from tests.web.desk import Desk
from tests.web.feeding import Source


@pytest.fixture(scope="session")
def filled_file(tmp_path_factory):
    """A workshop with a book, a spot price, listings and quotes, made once."""
    file = tmp_path_factory.mktemp("desk") / "filled.sqlite3"
    services = compose(Settings(database=str(file)), clock=Clock())
    fill(services)
    services.close()
    return file


@pytest.fixture(scope="session")
def compiled(tmp_path_factory):
    """Templates compiled once, and not by each application anew."""
    return FileSystemBytecodeCache(str(tmp_path_factory.mktemp("templates")))


@pytest.fixture
def desk_on(compiled):
    """Open desks that are closed after the test: desk_on(file, clock=…, **settings).

    ``outside`` replaces what asks or tells other machines: fetcher and sender.
    """
    opened = []

    def opening(file, *, clock=None, outside=None, pages=(*PAGES, blank), **settings):
        settings = Settings(database=str(file), **settings)
        services = compose(settings, clock=clock or Clock(), **(outside or {}))
        app = lend(settings, services, pages=pages)
        app.jinja_env.bytecode_cache = compiled
        opened.append((app, settings, services, pages))
        return Desk(app, services)

    yield opening
    for app, settings, services, pages in opened:
        services.close()
        give_back(app, settings, pages=pages)


@pytest.fixture
def filled_copy(filled_file, tmp_path):
    """A filled workshop of one test's own."""
    return shutil.copy(filled_file, tmp_path / "fineweight.sqlite3")


@pytest.fixture
def desk(desk_on, filled_copy):
    """The bench of a filled workshop."""
    return desk_on(filled_copy)


@pytest.fixture
def source(clock):
    """What answers for every feed."""
    return Source(clock)


@pytest.fixture
def empty_desk(desk_on, tmp_path):
    """The bench of a workshop that has nothing yet."""
    return desk_on(tmp_path / "empty.sqlite3")


@pytest.fixture(scope="module")
def shared_desk(filled_file, compiled, tmp_path_factory):
    """The bench of a filled workshop, for tests of one file that change nothing."""
    copy = tmp_path_factory.mktemp("shared") / "fineweight.sqlite3"
    shutil.copy(filled_file, copy)
    settings = Settings(database=str(copy))
    with closing(compose(settings, clock=Clock())) as services:
        app = create_app(settings, services, pages=(*PAGES, blank))
        app.jinja_env.bytecode_cache = compiled
        yield Desk(app, services)
