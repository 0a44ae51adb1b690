from __future__ import annotations

import shutil
from contextlib import closing
from types import SimpleNamespace

import pytest

from api.db import open_storage, upgrade
from tests.services.feeding import NOON, Fetchery
from tests.services.hooking import Office
from tests.services.promising import Promises
from tests.services.repricing import Shop


@pytest.fixture
def fetchery(storage, clock):
    """A workshop with one feed, called assay."""
    made = Fetchery(storage, clock)
    made.set_up()
    return made


@pytest.fixture(scope="session")
def workshop_file(tmp_path_factory):
    """An SQLite file of a workshop with a book and a spot price, to be copied."""
    file = tmp_path_factory.mktemp("workshop") / "fineweight.sqlite3"
    with closing(open_storage(str(file))) as storage:
        upgrade(storage.engine)
        Promises(storage, SimpleNamespace(now=lambda: NOON)).open()
    return file


@pytest.fixture
def promises(workshop_file, sqlite_url, clock):
    """A workshop that can quote."""
    shutil.copyfile(workshop_file, sqlite_url)
    with closing(open_storage(sqlite_url)) as storage:
        yield Promises(storage, clock)


@pytest.fixture(scope="session")
def shop_file(tmp_path_factory):
    """An SQLite file of a shop that sells, with no listings yet, to be copied."""
    file = tmp_path_factory.mktemp("shop") / "fineweight.sqlite3"
    with closing(open_storage(str(file))) as storage:
        upgrade(storage.engine)
        Shop(storage, SimpleNamespace(now=lambda: NOON)).open()
    return file


@pytest.fixture
def shop(shop_file, sqlite_url, clock):
    """A shop whose listings can be repriced; silver is at 27.50."""
    shutil.copyfile(shop_file, sqlite_url)
    with closing(open_storage(sqlite_url)) as storage:
        yield Shop(storage, clock)


@pytest.fixture
def office(shop):
    """A shop whose endpoints are told what happens."""
    return Office(shop)
