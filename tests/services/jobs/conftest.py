from __future__ import annotations

import pytest

from tests.services.logbook import Logbook


@pytest.fixture
def logbook(promises):
    """A workshop that logs its work."""
    return Logbook(promises.storage, promises.clock)


@pytest.fixture
def job(logbook):
    """An open job for two rings of one kind."""
    return logbook.opened()
