from __future__ import annotations

from datetime import date

import pytest

from api.schemas.as_written import DayText, Written
from api.schemas.fields import Text
from api.schemas.telling import told


class Note(Written):
    """A document that is handed on."""

    text = told(Text, "What it says.", most=5)


def test_what_was_written_is_handed_on_as_it_is():
    document = {"text": "longer than it could be read"}
    assert Note().dump(document) is document


@pytest.mark.parametrize("document", [{}, {"text": "a", "cost": "1.00"}])
def test_a_member_too_few_or_too_many_is_a_fault(document):
    with pytest.raises(AttributeError, match=r"Note differs in (text|cost)"):
        Note().dump(document)


def test_a_day_is_written_without_a_time():
    day = DayText()
    assert day._serialize(date(2026, 12, 24)) == "2026-12-24"
    assert day._serialize(None) is None
