from __future__ import annotations

import pytest

from tests.services.feeding import Fetchery


@pytest.fixture
def fetchery(storage, clock):
    """A workshop with one feed, called assay."""
    made = Fetchery(storage, clock)
    made.set_up()
    return made
