"""One change of one job: seen in a version, written with what follows from it."""

from __future__ import annotations

from dataclasses import replace

from api.ports import Conflict, NotFound, PreconditionFailed, UnitOfWork
from api.ports.jobs import Job
from api.services.jobs.result import worked_out


def found(job: Job | None, name: str) -> Job:
    """The job. Raises NotFound where there is none."""
    if job is None:
        raise NotFound(f"there is no job '{name[:40]}'; list them to see all")
    return job


def as_expected(unit: UnitOfWork, job_id: str, expected: int | None) -> Job:
    """The job of an id, in the version that was seen, to be changed.

    Args:
        unit: the transaction.
        job_id: which one.
        expected: its version that was seen [count]; None for whatever it is.

    Raises:
        NotFound: there is no such job.
        PreconditionFailed: it has another version.
    """
    job = found(unit.jobs.get(job_id, locked=True), job_id)
    if expected not in {None, job.version}:
        raise PreconditionFailed(
            f"job {job.number} is at version {job.version}, not {expected}; read it "
            "again and make the change to that",
            current=job.version,
        )
    return job


def still_open(unit: UnitOfWork, job_id: str, expected: int | None = None) -> Job:
    """The job of an id that is not completed. Raises as `as_expected`, and Conflict."""
    job = as_expected(unit, job_id, expected)
    if job.status == "completed":
        raise Conflict(
            f"job {job.number} is completed; reopen it first, or send the whole of it "
            "corrected"
        )
    return job


def written(unit: UnitOfWork, job: Job) -> Job:
    """The job as it is now, a version on; of a completed one all is worked out anew.

    Raises:
        InvalidInput: what is written down for a completed job cannot be.
        Conflict: it was changed meanwhile.
    """
    if job.status == "completed":
        worked = worked_out(job, unit.jobs.log([job])[job.seq])
        unit.jobs.set_results([worked])
        job = worked.job
    if not unit.jobs.change(job, expected=job.version):
        raise Conflict(f"job {job.number} was changed meanwhile; read it again")
    return replace(job, version=job.version + 1)


def opened_again(job: Job) -> Job:
    """The job as if it had not been done."""
    return replace(
        job,
        status="open",
        completed_at=None,
        completed_by="",
        completed_day=None,
        week=None,
        result=None,
    )
