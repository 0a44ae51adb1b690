"""Jobs page by page."""

from __future__ import annotations

import pytest

from api.ports.jobs import JobFilter
from pricing.errors import InvalidInput
from tests.services.promising import DOLLAR, ask


@pytest.fixture
def three(logbook):
    """An open job, one with a name of its own, one that is completed."""
    first, second = logbook.opened(), logbook.opened(reference="Österreich 7")
    third = logbook.jobs.complete(logbook.opened(ask(DOLLAR)).id, expected=None)
    return first, second, third


def test_pages_go_from_the_newest_to_the_oldest_and_back(logbook, three):
    page = logbook.jobs.page(JobFilter(), limit=2)
    assert [job.id for job in page.jobs] == [three[2].id, three[1].id]
    assert (page.older, page.newer) == (True, False)
    rest = logbook.jobs.page(JobFilter(), limit=2, past=page.jobs[-1].seq)
    assert [job.id for job in rest.jobs] == [three[0].id]
    assert (rest.older, rest.newer) == (False, True)
    back = logbook.jobs.page(JobFilter(), limit=2, past=three[0].seq, newer=True)
    assert [job.id for job in back.jobs] == [three[2].id, three[1].id]


def test_jobs_are_chosen_by_what_is_so_of_them(logbook, three):
    def found(**wanted):
        page = logbook.jobs.page(JobFilter(**wanted), limit=9)
        return [three.index(job) for job in reversed(page.jobs)]

    assert found(status="open") == [0, 1]
    assert found(week=three[2].week) == [2]
    assert found(week="2020-W01") == []
    assert found(quote_id=three[0].quote_id) == [0]
    assert found(sku="ring-1") == []
    assert found(text=" ÖSTERREICH ") == [1]
    assert found(text="J2026-0003") == [2]
    assert found(text="%") == []


@pytest.mark.parametrize("limit", [0, 101])
def test_a_page_has_a_size(logbook, limit):
    with pytest.raises(InvalidInput, match="1 to 100"):
        logbook.jobs.page(JobFilter(), limit=limit)
