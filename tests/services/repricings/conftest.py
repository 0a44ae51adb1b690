"""A shop to be repriced."""

from __future__ import annotations

import pytest

BAND = ("5", "5.5")


@pytest.fixture
def stocked(shop):
    """Bands to be raised, lowered and reviewed; one is locked, one of no coin."""
    shop.list(
        shop.listing("A", (*BAND, "140.00"), ("6", "6", "152.00")),
        shop.listing("B", (*BAND, "170.00")),
        shop.listing("C", (*BAND, "100.00")),
        shop.listing("D", (*BAND, "200.00")),
        shop.listing("E", (*BAND, "140.00"), locked=True),
        shop.listing("F", (*BAND, "140.00"), coin="gone"),
    )
    return shop
