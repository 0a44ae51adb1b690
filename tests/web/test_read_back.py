"""Documents with figures as figures again."""

from __future__ import annotations

import json
from datetime import UTC, datetime
from decimal import Decimal
from importlib.resources import files

from api.schemas.estimate_document import EstimateDocument
from api.web.read_back import read_back

WRITTEN = json.loads(
    (files("api.schemas") / "estimate_example.json").read_text("utf-8")
)


def test_figures_and_times_are_values_and_all_else_stays():
    found = read_back(WRITTEN, EstimateDocument())
    assert found["price"]["unit"] == Decimal(WRITTEN["price"]["unit"])
    assert found["forming"]["hole_mm"] == Decimal(WRITTEN["forming"]["hole_mm"])
    assert found["cost"]["lines"][0]["amount"] > 0
    assert found["spot"]["as_of"] == datetime(2026, 12, 1, 12, tzinfo=UTC)
    assert found["wish"]["quantity"] == 1
    assert found["cost"]["lines"][0]["how"] == WRITTEN["cost"]["lines"][0]["how"]


def test_what_is_null_stays_null():
    found = read_back(WRITTEN, EstimateDocument())
    assert found["risk"] is None
    assert found["break_even"]["spot_at_floor_below"] is None


def test_what_the_schema_does_not_know_stays_as_it_is():
    assert read_back({"a": "1.50"}, EstimateDocument()) == {"a": "1.50"}
