"""Whether the service can do its work now."""

from __future__ import annotations

from contextlib import closing

from api.db import open_storage
from api.services import Health


def test_a_storage_with_its_tables_is_ready(storage):
    assert Health(storage).ready().ready


def test_a_storage_without_tables_is_not(sqlite_url):
    with closing(open_storage(sqlite_url)) as storage:
        found = Health(storage).ready()
    assert (found.ready, found.database, found.schema) == (False, True, False)


def test_a_storage_that_another_writes_to_answers_at_once(storage):
    found = storage.write(lambda _: Health(storage).ready())
    assert (found.ready, found.database, found.writable) == (False, True, False)
