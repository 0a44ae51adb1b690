from decimal import Decimal

import pytest

from pricing.errors import (
    BookRefused,
    Fault,
    InvalidInput,
    NoPossiblePrice,
    NotMakeable,
    PricingError,
    UnknownKey,
)


@pytest.mark.parametrize(
    ("path", "dotted"),
    [
        ((), ""),
        (("labour",), "labour"),
        (("stages", 2, "minutes"), "stages[2].minutes"),
        ((0, "key"), "[0].key"),
    ],
)
def test_a_path_is_written_the_way_a_person_would(path, dotted):
    assert Fault(path, "m").dotted == dotted


def test_an_error_is_one_fault_at_its_own_path():
    error = InvalidInput("must be above 0", path=("wear",))
    assert error.faults == (Fault(("wear",), "must be above 0"),)
    assert str(error) == error.message == "must be above 0"


def test_collected_faults_replace_the_single_one():
    faults = (Fault(("a",), "first"), Fault(("b",), "second"))
    assert BookRefused("2 faults", faults=faults).faults == faults


def test_an_error_without_a_path_points_at_the_whole_document():
    assert UnknownKey("no such coin").faults == (Fault((), "no such coin"),)


def test_not_makeable_carries_the_nearest_that_is():
    error = NotMakeable(
        "too thin", reason="wall", nearest_size_us=Decimal(9), nearest_hole_mm=None
    )
    assert (error.reason, error.nearest_size_us, error.nearest_hole_mm) == (
        "wall",
        Decimal(9),
        None,
    )


def test_no_possible_price_names_its_rule():
    assert NoPossiblePrice("fees eat it", rule="target_margin").rule == "target_margin"


@pytest.mark.parametrize(
    ("error", "also"),
    [
        (InvalidInput("m"), ValueError),
        (BookRefused("m"), InvalidInput),
        (UnknownKey("m"), LookupError),
        (NotMakeable("m", reason="wall"), ValueError),
        (NoPossiblePrice("m", rule="markup"), ValueError),
    ],
)
def test_every_error_is_a_pricing_error_and_the_usual_kind(error, also):
    assert isinstance(error, PricingError)
    assert isinstance(error, also)


def test_codes_are_stable_and_distinct():
    kinds = [
        PricingError,
        InvalidInput,
        BookRefused,
        UnknownKey,
        NotMakeable,
        NoPossiblePrice,
    ]
    assert [kind.code for kind in kinds] == [
        "pricing_error",
        "invalid_input",
        "book_refused",
        "unknown_key",
        "not_makeable",
        "no_possible_price",
    ]


@pytest.mark.parametrize(
    "error",
    [
        UnknownKey("m", path=("channel",)),
        InvalidInput("m", path=("channel",)),
        InvalidInput("m", faults=(Fault(("channel",), "m"),)),
    ],
)
def test_an_error_placed_in_a_larger_document_is_led_there(error):
    error.place("lines", 2)
    assert error.faults == (Fault(("lines", 2, "channel"), "m"),)
    assert error.path[:2] == ("lines", 2)


def test_an_error_placed_elsewhere_keeps_all_else():
    error = NotMakeable("too thin", reason="wall", nearest_size_us=Decimal(9))
    error.place("lines", 0)
    assert error.faults == (Fault(("lines", 0), "too thin"),)
    assert (error.reason, error.nearest_size_us) == ("wall", Decimal(9))


def test_a_message_can_be_told_what_it_is_about():
    error = NotMakeable("the wall is thin", reason="wall_too_thin")
    error.begin("US 9.25: ")
    assert str(error) == error.message == "US 9.25: the wall is thin"
    assert [fault.message for fault in error.faults] == [error.message]
