"""Reading a document: every fault, where it is."""

from __future__ import annotations

import pytest

from api.schemas.quotes import QuoteBody
from api.schemas.reading import read
from pricing.errors import Fault, InvalidInput

LINE = {"coin": "at_50s_1959_1973", "size": {"system": "us", "size": "10"}}


def faults(document):
    with pytest.raises(InvalidInput) as refused:
        read(QuoteBody(), document)
    return str(refused.value), refused.value.faults


def test_a_sound_document_is_read():
    found = read(QuoteBody(), {"lines": [LINE], "deposit_share": "0.50"})
    assert str(found["deposit_share"]) == "0.50"
    assert found["lines"][0]["coin"] == LINE["coin"]


def test_one_fault_is_told_with_its_path():
    said, [fault] = faults({"lines": [LINE, LINE | {"quantity": 0}]})
    assert said == "one value cannot be used"
    assert fault.path == ("lines", 1, "quantity")


def test_every_fault_is_told_in_the_order_of_the_paths():
    said, found = faults({"lines": [{}], "valid_hours": 0})
    assert said == "3 values cannot be used"
    assert [fault.dotted for fault in found] == [
        "lines[0].coin",
        "lines[0].size",
        "valid_hours",
    ]


@pytest.mark.parametrize("document", [[], "lines", None])
def test_what_is_no_document_has_a_fault_as_a_whole(document):
    _, [fault] = faults(document)
    assert fault == Fault((), fault.message)
    assert fault.message
