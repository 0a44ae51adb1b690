"""The audit trail: written down as JSON can hold it, read page by page."""

from __future__ import annotations

import json
from datetime import datetime, timedelta, timezone
from decimal import Decimal
from types import SimpleNamespace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from api.ports import AuditEntry, AuditFilter
from api.services import Snapshots
from api.services.actor import Actor, acting
from api.services.audit import Audit, difference, note
from pricing.errors import InvalidInput
from tests.services.feeding import NOON

ALL = AuditFilter()
EAST = timezone(timedelta(hours=1))


@pytest.fixture
def audit(storage, clock):
    return Audit(Snapshots(storage, clock))


def test_a_document_is_written_down_as_json_can_hold_it():
    written = []
    unit = SimpleNamespace(audit=SimpleNamespace(add=written.append))
    moment = datetime(2026, 12, 1, 13, tzinfo=EAST)
    parts = ({"tax": Decimal("1E+1")}, None, True, 3)
    document = {"total": Decimal("100.00"), "at": moment, "parts": parts}
    note(unit, NOON, "quote.accepted", "abc", after=document)
    [line] = written
    assert line == AuditEntry(
        at=NOON,
        by="",
        via="program",
        action="quote.accepted",
        subject="abc",
        after={
            "total": "100.00",
            "at": "2026-12-01T12:00:00Z",
            "parts": [{"tax": "10"}, None, True, 3],
        },
    )
    assert json.loads(json.dumps(line.after)) == line.after


@given(
    st.dictionaries(st.sampled_from("abcd"), st.integers(0, 2)),
    st.dictionaries(st.sampled_from("abcd"), st.integers(0, 2)),
)
def test_a_difference_leads_from_one_document_to_the_other(old, new):
    before, after = difference(old, new)
    kept = {name: value for name, value in old.items() if name not in before}
    assert kept | after == new
    assert {name: old[name] for name in before} == before
    assert all(old.get(name) != value for name, value in after.items())


# Reading


@pytest.fixture
def lines(any_storage, clock):
    """A trail of 23 lines, an hour apart, of two makers."""
    audit = Audit(Snapshots(any_storage, clock))

    def work(unit):
        for number in range(23):
            who = Actor(by=f"maker {number % 2}", via="command line")
            kind = "coin" if number % 3 else "coinage"
            with acting(who):
                at = NOON + timedelta(hours=number)
                note(unit, at, f"{kind}.changed", f"subject {number % 4}")

    any_storage.write(work)
    return audit


def walked(audit, wanted, limit, *, newer=False):
    """Every line, page by page, in one direction."""
    page = audit.page(wanted, limit=limit, newer=newer)
    pages = [page]
    while page.newer if newer else page.older:
        past = page.entries[0 if newer else -1].id
        page = audit.page(wanted, limit=limit, past=past, newer=newer)
        pages.append(page)
        assert page.older if newer else page.newer
        assert page.entries
    return pages


@pytest.mark.parametrize("limit", [1, 5, 22, 23, 24])
def test_following_the_pages_shows_every_line_once_either_way(lines, limit):
    everything = lines.page(ALL, limit=1000).entries
    assert len(everything) == 23
    down = walked(lines, ALL, limit)
    assert [line for page in down for line in page.entries] == list(everything)
    up = walked(lines, ALL, limit, newer=True)
    assert [e for page in reversed(up) for e in page.entries] == list(everything)
    assert all(len(page.entries) <= limit for page in down + up)
    assert not down[0].newer
    assert not up[0].older


def test_lines_are_chosen_by_kind_action_subject_actor_and_time(lines):
    def count(**wanted):
        return len(lines.page(AuditFilter(**wanted), limit=1000).entries)

    assert count(action="coin") == count(action="coin.changed") == 15
    assert count(action="coinage") == 8
    assert count(action="coin.added") == count(action="COIN") == 0
    assert count(subject="subject 3") == 5
    assert count(by="maker 1") == 11
    assert count(by="maker 1", subject="subject 2") == 0
    assert count(since=NOON + timedelta(hours=20)) == 3
    assert count(since=(NOON + timedelta(hours=22)).astimezone(EAST)) == 1


def test_a_page_of_a_chosen_part_ends_where_that_ends(lines):
    wanted = AuditFilter(by="maker 1")
    pages = walked(lines, wanted, 4)
    assert [len(page.entries) for page in pages] == [4, 4, 3]
    assert {line.by for page in pages for line in page.entries} == {"maker 1"}


def test_an_empty_trail_is_one_empty_page(audit):
    for newer in (False, True):
        page = audit.page(ALL, limit=10, newer=newer)
        assert (page.entries, page.older, page.newer) == ((), False, False)


@pytest.mark.parametrize("limit", [-1, 0, 1001])
def test_a_page_has_a_size_that_can_be(audit, limit):
    with pytest.raises(InvalidInput, match="1 to 1000") as refused:
        audit.page(ALL, limit=limit)
    assert refused.value.path == ("limit",)
