"""An apply that is cut short: nothing of it is in force, and it can be gone on with."""

from __future__ import annotations

from decimal import Decimal
from unittest.mock import patch

import pytest

from api.ports import Conflict, Place
from api.services.repricings.apply import STALE_AFTER
from api.services.repricings.refusals import Overtaken
from tests.services.killing import killed_in


@pytest.mark.parametrize("name", ["apply_chunk", "switch"])
def test_a_killed_apply_changes_nothing_and_goes_on_under_the_old_tag(stocked, name):
    run, before = stocked.repricings.preview(), stocked.prices()
    with killed_in(stocked, name):
        stocked.applied(run)
    assert stocked.prices() == before
    left = stocked.repricings.get(run.id)
    assert (left.status, left.version) == ("applying", 2)
    assert stocked.repricings.preview().status == "preview"
    assert stocked.applied(run).status == "applied"
    assert stocked.prices()["A", 5] == stocked.asked()


def test_it_goes_on_under_the_new_tag_too_and_only_as_it_was_begun(stocked):
    run = stocked.repricings.preview()
    named = [Place("C", Decimal(5))]
    with killed_in(stocked, "switch"):
        stocked.applied(run, named)
    with pytest.raises(Conflict, match="begun with 1 of the bands in review"):
        stocked.repricings.apply(run.id, expected=2)
    applied = stocked.repricings.apply(run.id, expected=2, include=named)
    assert applied.version == 3
    assert stocked.prices()["C", 5] == stocked.asked()


def test_a_killed_apply_of_few_bands_leaves_the_preview(stocked):
    stocked.paced(at_once=7)
    run, before = stocked.repricings.preview(), stocked.prices()
    with killed_in(stocked, "apply_at_once"):
        stocked.applied(run)
    assert stocked.prices() == before
    assert stocked.repricings.get(run.id) == run
    assert stocked.applied(run).status == "applied"
    assert stocked.prices()["A", 5] == stocked.asked()


def test_it_goes_on_where_it_was_cut_short(stocked):
    stocked.paced(size=1)
    run = stocked.repricings.preview()
    with killed_in(stocked, "apply_chunk", after=3):
        stocked.applied(run)
    reached = stocked.repricings.get(run.id).reached
    assert reached > 0
    seen = []
    ready = stocked.repricings._apply._make_ready
    with patch.object(
        stocked.repricings._apply,
        "_make_ready",
        lambda begun: (seen.append(begun.reached), ready(begun)),
    ):
        stocked.applied(run)
    assert seen == [reached]
    assert stocked.prices()["B", 5] == stocked.asked()


def test_a_run_that_gives_a_sign_of_life_keeps_others_out(stocked, clock):
    run, other = stocked.repricings.preview(), stocked.repricings.preview()
    with killed_in(stocked, "switch"):
        stocked.applied(run)
    clock.advance(seconds=STALE_AFTER.total_seconds() - 1)
    assert stocked.repricings.recover() is None
    with pytest.raises(Conflict, match="being applied just now"):
        stocked.applied(other)


def test_one_without_is_turned_back_by_the_next(stocked, clock):
    run, other = stocked.repricings.preview(), stocked.repricings.preview()
    with killed_in(stocked, "switch"):
        stocked.applied(run)
    clock.advance(seconds=STALE_AFTER.total_seconds())
    assert stocked.applied(other).status == "applied"
    left = stocked.repricings.get(run.id)
    assert (left.status, left.version) == ("preview", 3)
    with pytest.raises(Overtaken):
        stocked.applied(left)


def test_one_without_is_turned_back_at_the_start(stocked, clock):
    run, before = stocked.repricings.preview(), stocked.prices()
    assert stocked.repricings.recover() is None
    with killed_in(stocked, "switch"):
        stocked.applied(run)
    clock.advance(minutes=10)
    assert stocked.repricings.recover().id == run.id
    assert stocked.repricings.recover() is None
    assert stocked.prices() == before
    assert stocked.applied(stocked.repricings.get(run.id)).status == "applied"
