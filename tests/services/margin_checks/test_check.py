"""What a check says, as values."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

import pytest

from api.services.margin_checks.check import hourly, no_jobs
from pricing.margin_check.outcome import PARTS
from pricing.money import currency


def test_no_job_comes_to_nothing_in_the_currency_of_the_book():
    sums = no_jobs(currency("JPY"), "2026-W48")
    assert (sums.currency, sums.jobs, sums.week) == ("JPY", 0, "2026-W48")
    assert sums.parts == dict.fromkeys(PARTS, 0)
    assert hourly(sums, currency("JPY")) is None


@pytest.mark.parametrize(("code", "earned"), [("EUR", "66.67"), ("JPY", "67")])
def test_an_hour_earns_margin_and_wage(code, earned):
    unit = currency(code)
    worked = replace(
        no_jobs(unit), margin=Decimal(68), labour=Decimal(32), minutes=Decimal(90)
    )
    assert hourly(worked, unit) == Decimal(earned)
