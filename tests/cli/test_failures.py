from __future__ import annotations

from decimal import Decimal

import pytest

from api.cli.failures import told
from api.ports import (
    Conflict,
    NotFound,
    PreconditionFailed,
    SpotUnavailable,
    StaleSpot,
    StorageUnavailable,
)
from api.settings import SettingsRefused
from pricing.errors import BookRefused, Fault, InvalidInput, NotMakeable, UnknownKey


@pytest.mark.parametrize(
    ("error", "code"),
    [
        (NotFound("x"), 1),
        (UnknownKey("x"), 1),
        (StorageUnavailable("x"), 1),
        (SettingsRefused(("x",)), 2),
        (SpotUnavailable("x"), 4),
        (StaleSpot("x"), 4),
        (Conflict("x"), 5),
        (PreconditionFailed("x", current=3), 5),
    ],
    ids=lambda value: type(value).__name__,
)
def test_each_refusal_has_its_exit_code(error, code):
    failure = told(error)
    assert failure.exit_code == code
    assert failure.message == "x"


def test_every_fault_is_listed_by_its_path():
    faults = (
        Fault(("stages", 2, "minutes"), "'eight' is no number"),
        Fault(("title",), "is missing"),
    )
    assert told(BookRefused("2 faults", faults=faults)).message == (
        "2 faults\n  stages[2].minutes: 'eight' is no number\n  title: is missing"
    )


def test_a_single_fault_is_told_once_with_its_path():
    error = InvalidInput("the text is empty", path=("lines", 0, "coin"))
    assert told(error).message == "lines[0].coin: the text is empty"


def test_a_ring_that_cannot_be_made_comes_with_the_nearest_that_can():
    error = NotMakeable(
        "too thin",
        reason="wall",
        nearest_size_us=Decimal("9.5"),
        nearest_hole_mm=Decimal(15),
    )
    assert told(error).message.splitlines()[1:] == [
        "  nearest size with this hole: US 9.5",
        "  nearest hole for this size: 15 mm",
    ]
    bare = NotMakeable("too thin", reason="wall")
    assert told(bare).message == "too thin"


def test_an_unforeseen_error_is_left_as_it_is():
    assert told(ZeroDivisionError()) is None
