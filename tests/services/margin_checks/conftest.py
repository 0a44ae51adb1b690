from __future__ import annotations

import pytest

from api.app import compose
from api.settings import Settings
from tests.http.workshop import BOOK, SPOT


@pytest.fixture
def services(tmp_path, clock):
    """Everything, on a new file, with the demo's price book and a spot price."""
    composed = compose(Settings(database=str(tmp_path / "bench.sqlite3")), clock=clock)
    composed.price_books.replace(BOOK, expected=None)
    composed.spot_prices.enter("XAG", SPOT, "EUR")
    yield composed
    composed.close()


@pytest.fixture
def checks(services):
    return services.bench.margin_checks
