"""The model's faults as the messages of a document."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from marshmallow import ValidationError

from api.errors import body_errors
from api.schemas.refusals import messages_of
from pricing.errors import Fault, InvalidInput


def pointed(*faults):
    refused = InvalidInput("several", faults=tuple(Fault(*fault) for fault in faults))
    items = body_errors(ValidationError(messages_of(refused)))
    return sorted((item["pointer"], item["detail"]) for item in items)


def test_a_member_may_have_faults_of_its_own_and_faults_inside():
    assert pointed(
        (("holes", 0), "out of order"),
        (("holes", 0, "hole_mm"), "too large"),
        (("holes",), "too many"),
        (("holes", 0), "again"),
        ((), "as a whole"),
    ) == [
        ("#", "as a whole"),
        ("#/holes", "too many"),
        ("#/holes/0", "again"),
        ("#/holes/0", "out of order"),
        ("#/holes/0/hole_mm", "too large"),
    ]


@pytest.mark.parametrize("first", [(("_schema",), "a"), ((), "a")])
def test_a_member_with_the_librarys_own_name_does_no_harm(first):
    found = pointed(first, (("_schema", "x"), "b"), ((), "c"))
    assert {pointer for pointer, _ in found} == {"#"}
    assert len(found) == 3


names = st.sampled_from(("a", "b", "_schema", 0, 1))
paths = st.lists(names, max_size=4).map(tuple)


@given(st.lists(paths, min_size=1, max_size=8))
def test_no_fault_is_lost_whatever_the_paths(drawn):
    faults = [(path, f"fault {i}") for i, path in enumerate(drawn)]
    assert sorted(text for _, text in pointed(*faults)) == sorted(
        text for _, text in faults
    )
