from __future__ import annotations

import pytest

from tests.hooks.receiver import Receiver


@pytest.fixture
def receiver():
    with Receiver() as running:
        yield running
