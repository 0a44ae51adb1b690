"""How long a feed is left alone after it has failed."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest

from api.ports import FetchRecord
from api.services.spot.breaker import LOOKED_AT, rests_until

NOON = datetime(2026, 12, 1, 12, tzinfo=UTC)


def log(outcomes):
    """Records, newest first, the newest of noon."""
    return [
        FetchRecord(feed="assay", at=NOON - timedelta(minutes=i), outcome=outcome)
        for i, outcome in enumerate(outcomes)
    ]


@pytest.mark.parametrize(
    ("failures", "minutes"),
    [(3, 5), (4, 10), (5, 20), (6, 40), (7, 60), (LOOKED_AT, 60), (50, 60)],
)
def test_each_failure_after_the_second_doubles_the_rest_up_to_an_hour(
    failures, minutes
):
    assert rests_until(log(["failed"] * failures)) == NOON + timedelta(minutes=minutes)


@pytest.mark.parametrize(
    "outcomes",
    [
        [],
        ["failed"] * 2,
        ["failed", "failed", "accepted", "failed"],
        ["refused", "failed", "failed", "failed"],
        ["refused"] * 5,
    ],
)
def test_a_feed_that_did_not_fail_three_times_running_is_asked(outcomes):
    assert rests_until(log(outcomes)) is None
