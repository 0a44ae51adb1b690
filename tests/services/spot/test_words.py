"""What is said where a price is missing."""

from __future__ import annotations

from datetime import UTC, datetime
from decimal import Decimal

import pytest

from api.ports import SPOT_STATUSES, SpotEntry
from api.services.spot.words import entry_status, no_price, no_rate
from pricing.errors import InvalidInput

DOLLARS = SpotEntry(
    metal="XAG",
    price=Decimal(30),
    currency="USD",
    as_of=datetime(2026, 12, 1, 12, tzinfo=UTC),
    source="assay",
)


def test_without_a_price_it_is_said_how_to_enter_and_how_to_fetch_one():
    said = no_price("XAG")
    assert "'fineweight spot set 27.50'" in said
    assert "'fineweight spot fetch'" in said


def test_without_a_rate_it_is_said_between_which_currencies():
    assert "enter a price of USD in EUR" in no_rate(DOLLARS, "EUR")


@pytest.mark.parametrize("status", [None, *SPOT_STATUSES])
def test_a_status_is_known_by_its_name(status):
    assert entry_status(status) == status


@pytest.mark.parametrize("status", ["", "Held", "x" * 99])
def test_another_name_is_no_status(status):
    with pytest.raises(InvalidInput, match="accepted, held, rejected") as refused:
        entry_status(status)
    assert refused.value.path == ("status",)
