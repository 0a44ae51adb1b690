"""A held price is decided once, and the second answer says so."""

from __future__ import annotations

from datetime import UTC, datetime
from decimal import Decimal

import pytest

from api.ports import Conflict, Decision, NotFound, SpotEntry
from api.services.spot.decisions import decided

NOON = datetime(2026, 12, 1, 12, tzinfo=UTC)
YES = Decision(status="accepted", by="maker", at=NOON)
NO = Decision(status="rejected", by="boss", at=NOON)


@pytest.fixture
def recorded(storage):
    def make(status):
        entry = SpotEntry(
            metal="XAG",
            price=Decimal(27),
            currency="EUR",
            as_of=NOON,
            source="assay",
            status=status,
        )
        return storage.write(lambda unit: unit.spots.add(entry)).id

    return make


def decide(storage, number, decision):
    return storage.write(lambda unit: decided(unit, number, decision))


@pytest.mark.parametrize("decision", [YES, NO])
def test_a_decision_stands_with_who_made_it_and_when(storage, recorded, decision):
    number = recorded("held")
    told = decide(storage, number, decision)
    assert (told.status, told.decided_by, told.decided_at) == (
        decision.status,
        decision.by,
        NOON,
    )
    assert storage.read(lambda unit: unit.spots.get(number)) == told
    assert storage.revisions().spot_prices == 1


@pytest.mark.parametrize("again", [YES, NO])
def test_a_second_decision_is_a_conflict_that_tells_the_first(storage, recorded, again):
    number = recorded("held")
    decide(storage, number, YES)
    with pytest.raises(Conflict, match="accepted already, on 2026-12-01 12:00 UTC"):
        decide(storage, number, again)
    assert storage.read(lambda unit: unit.spots.get(number)).decided_by == "maker"
    assert storage.revisions().spot_prices == 1


def test_what_was_never_held_is_not_decided(storage, recorded):
    with pytest.raises(Conflict, match="accepted as it came"):
        decide(storage, recorded("accepted"), NO)


def test_what_is_not_there_is_not_decided(storage):
    with pytest.raises(NotFound, match="77"):
        decide(storage, 77, YES)
