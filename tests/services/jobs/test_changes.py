"""One change of one job, in the version that was seen."""

from __future__ import annotations

import pytest

from api.ports import Conflict, NotFound, PreconditionFailed
from api.services.jobs.changes import (
    as_expected,
    found,
    opened_again,
    still_open,
    written,
)


def test_the_job_is_there_in_the_version_that_was_seen(logbook, job):
    def read(work):
        return logbook.storage.write(work)

    assert read(lambda unit: as_expected(unit, job.id, None)) == job
    assert read(lambda unit: still_open(unit, job.id, job.version)) == job
    with pytest.raises(PreconditionFailed, match="at version 1, not 2"):
        read(lambda unit: as_expected(unit, job.id, 2))
    with pytest.raises(NotFound):
        read(lambda unit: as_expected(unit, "gone", None))
    with pytest.raises(NotFound, match="no job 'gone'"):
        found(None, "gone")


def test_of_two_changes_of_one_version_one_counts(logbook, job):
    def write():
        return logbook.storage.write(lambda unit: written(unit, job))

    assert write().version == job.version + 1
    with pytest.raises(Conflict, match="changed meanwhile"):
        write()


def test_a_completed_job_is_not_open(logbook, job):
    done = logbook.jobs.complete(job.id, expected=None)
    with pytest.raises(Conflict, match="completed"):
        logbook.storage.write(lambda unit: still_open(unit, job.id))
    again = opened_again(done)
    assert (again.status, again.week, again.completed_by) == ("open", None, "")
