"""What was made ready for a run that is not in force goes, whoever ended on the way."""

from __future__ import annotations

from decimal import Decimal

import pytest

from api.ports import Place
from tests.services.killing import killed_in


@pytest.mark.parametrize("at_once", [0, 7])
def test_a_name_that_was_taken_back_half_moves_nothing_later(stocked, clock, at_once):
    run, before = stocked.repricings.preview(), stocked.prices()
    with killed_in(stocked, "switch"):
        stocked.applied(run, [Place("C", Decimal(5))])
    clock.advance(minutes=10)
    with killed_in(stocked, "clear_chunk"):
        stocked.repricings.recover()
    stocked.paced(at_once=at_once)
    assert stocked.applied(stocked.repricings.get(run.id)).status == "applied"
    assert stocked.prices()["C", 5] == before["C", 5]
    assert stocked.prices()["A", 5] == stocked.asked()
