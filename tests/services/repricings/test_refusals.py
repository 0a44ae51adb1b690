"""Why a repricing cannot become what is asked of it, in words."""

from __future__ import annotations

from datetime import UTC, datetime
from decimal import Decimal

import pytest

from api.ports import Conflict, NotFound, PreconditionFailed, Repricing
from api.services.repricings.refusals import (
    Changed,
    Overtaken,
    check_status,
    check_version,
    found,
    moved_on,
)


def run(status="preview", version=1):
    return Repricing(
        id="a" * 32,
        status=status,
        version=version,
        created_at=datetime(2026, 12, 1, tzinfo=UTC),
        created_by="",
        currency="EUR",
        spot="null",
        spot_price=Decimal(0),
        book_version=1,
        listings_rev=1,
    )


@pytest.mark.parametrize(
    ("count", "ending"),
    [
        (1, "Changed: s0 from 5.5"),
        (5, "s4 from 5.5"),
        (6, "s4 from 5.5 and 1 more"),
        (99, "and 94 more"),
        (100, "and at least 95 more"),
    ],
)
def test_the_first_five_are_named_and_the_others_counted(count, ending):
    changed = [Changed(f"s{n}", Decimal("5.50")) for n in range(count)]
    error = Overtaken("Changed", changed)
    assert error.message.endswith(ending)
    assert str(error) == error.message
    assert error.changed == tuple(changed)


def test_a_listing_is_named_by_its_sku_alone():
    assert Changed("R-1").words == "R-1"


def test_a_run_that_is_not_there_is_said_in_short():
    assert found(run(), "x").id == "a" * 32
    with pytest.raises(NotFound, match=f"'{'x' * 40}'"):
        found(None, "x" * 999)


@pytest.mark.parametrize(
    ("status", "version", "expected", "passes"),
    [
        ("preview", 1, 1, True),
        ("preview", 1, None, True),
        ("preview", 3, 2, False),
        ("applying", 2, 2, True),
        ("applying", 2, 1, True),
        ("applying", 4, 1, False),
        ("applied", 3, 2, False),
    ],
)
def test_one_being_applied_is_also_the_preview_it_was(
    status, version, expected, passes
):
    if passes:
        check_version(run(status, version), expected)
        return
    with pytest.raises(PreconditionFailed) as refused:
        check_version(run(status, version), expected)
    assert refused.value.current == version


@pytest.mark.parametrize(
    ("status", "said"),
    [
        ("preview", "is a preview; nothing of it is in force yet"),
        ("applying", "is being applied; apply it again"),
        ("applied", "is applied; it can only be undone"),
        ("undone", "is undone; make a new preview"),
    ],
)
def test_a_status_that_does_not_allow_it_says_what_can_be_done(status, said):
    check_status(run(status), "nothing", status)
    with pytest.raises(Conflict, match=said):
        check_status(run(status), "nothing")
    assert "by now, at version 1" in moved_on(run(status)).message
