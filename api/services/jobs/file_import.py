"""What a file would write into the bench log, and writing it: all of it or nothing."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from typing import Any

from api.ports import Conflict, NotFound, UnitOfWork
from api.ports.jobs import Job, JobLog
from api.services.audit import note_all
from api.services.csv_table import RowFault, RowsRefused, Table
from api.services.jobs.import_report import JobChange, LogReport
from api.services.jobs.merging import Ground, Merged, merged
from api.services.jobs.opening import JobOpening
from api.services.jobs.plan import plan_members
from api.services.jobs.rows import OF_NEW, Draft
from api.services.jobs.terms import JobAsk
from pricing.errors import PricingError
from pricing.ring_size import us_size

_NOTHING = JobLog()


@dataclass(frozen=True, slots=True, kw_only=True)
class LogFile:
    """What a file says of jobs, read."""

    table: Table
    drafts: tuple[Draft, ...]
    faults: tuple[RowFault, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class LogPlan:
    """What is to be written."""

    opened: tuple[Merged, ...]
    changed: tuple[Merged, ...]
    report: LogReport


def planned(
    file: LogFile, unit: UnitOfWork, opening: JobOpening, ground: Ground
) -> LogPlan:
    """What a file changes, compared with what is stored.

    Raises:
        RowsRefused: with every row at fault.
        SpotUnavailable, StaleSpot: as for opening a job for a listing.
    """
    faults = list(file.faults)
    there = unit.jobs.find([draft.name for draft in file.drafts])
    jobs: list[tuple[Draft, Job]] = []
    for draft in file.drafts:
        try:
            known = there.get(draft.name, ())
            job = _job(draft, known, unit=unit, opening=opening, ground=ground)
            jobs.append((draft, job))
        except (NotFound, Conflict, PricingError) as error:
            row = draft.where.get("sku", draft.rows[0])
            faults.append(RowFault(row, ground.headings["job"], error.message))
    faults += _called_twice(jobs, ground)
    logs = unit.jobs.log([job for _, job in jobs if job.seq])
    found = [merged(x, job, logs.get(job.seq, _NOTHING), ground) for x, job in jobs]
    faults += [fault for each in found for fault in each.faults]
    if faults:
        raise RowsRefused(faults)
    return LogPlan(
        opened=tuple(each for each in found if each.old is None),
        changed=tuple(each for each in found if each.old and each.changes),
        report=_report(file, found),
    )


def write(
    plan: LogPlan, unit: UnitOfWork, opening: JobOpening, ground: Ground
) -> LogReport:
    """Write a plan down; the report, with the numbers of jobs that were opened.

    Raises:
        Conflict: a job was changed meanwhile, or opened.
    """
    drafts = [each.job for each in plan.opened]
    opened = opening.add(unit, drafts, at=ground.at)
    unit.jobs.change_all([each.job for each in plan.changed])
    written = [
        *zip(plan.opened, opened, strict=True),
        *((each, each.job) for each in plan.changed),
    ]
    unit.jobs.add_attempts([(job.seq, x) for each, job in written for x in each.added])
    for each in plan.changed:
        for attempt in each.replaced:
            unit.jobs.replace_attempt(each.job.seq, attempt)
    coins = {job.seq: each.coins for each, job in written if "coins" in each.members}
    unit.jobs.set_coins(coins)
    worked = [
        replace(each.worked, job=job)
        for each, job in written
        if each.worked is not None
    ]
    unit.jobs.set_results(worked)
    told = {job.id: _told(each, job) for each, job in written}
    note_all(unit, ground.at, "job.imported", told)
    return plan.report.numbered({each.draft.name: job.number for each, job in written})


def _job(
    draft: Draft, found: tuple[Job, ...], *, unit: UnitOfWork, opening: JobOpening,
    ground: Ground,
) -> Job:  # fmt: skip
    """The job that a file means, or a new one for a quote or a listing."""
    if len(found) > 1:
        numbers = ", ".join(job.number for job in found)
        raise Conflict(f"'{draft.name[:40]}' could be {numbers}; write one of these")
    if found:
        _refuse_another(draft, found[0])
        return found[0]
    return opening.draft(unit, _ask(draft, unit), at=ground.at)


def _refuse_another(draft: Draft, job: Job) -> None:
    """Raise Conflict where a listing's job is for something else than the file says.

    Else a name that is used again had the work on one ring counted for another.
    """
    said = {name: draft.said[name] for name in OF_NEW if name in draft.said}
    if job.sku is None or not said:
        return
    [line] = plan_members(job.plan)["lines"]
    known = {"sku": job.sku, "size": Decimal(line["size_us"]), "quantity": job.pieces}
    if _marked(known | said) != _marked(known):
        size = _marked(known)["size"]
        raise Conflict(
            f"job {job.number} is for {job.pieces} of '{job.sku}' in US {size}, and "
            "the file says something else; call another job by another name"
        )


def _marked(piece: Mapping[str, Any]) -> Mapping[str, Any]:
    """What a job is for, its size [US number] as the nearest mark, as on a band."""
    return {**piece, "size": us_size(piece["size"]).marks()["us"]}


def _ask(draft: Draft, unit: UnitOfWork) -> JobAsk:
    said = draft.said
    if "sku" not in said:
        if unit.quotes.get(draft.name) or unit.quotes.by_number(draft.name):
            return JobAsk(quote=draft.name)
        raise NotFound(
            f"there is no job '{draft.name[:40]}', and no quote of this name; for a "
            "listing say its sku and size"
        )
    if "size" not in said:
        raise NotFound(f"say the size of '{draft.name[:40]}', as a US number")
    return JobAsk(
        sku=said["sku"],
        size=us_size(said["size"]),
        quantity=said.get("quantity", 1),
        reference=draft.name,
    )


def _called_twice(
    jobs: Sequence[tuple[Draft, Job]], ground: Ground
) -> Iterator[RowFault]:
    """Jobs that a file calls by two names."""
    names: dict[object, str] = {}
    for draft, job in jobs:
        # One that is not there yet is known by its quote; of a listing each is another.
        known = job.seq or job.quote_id or job.reference
        other = names.setdefault(known, draft.name)
        if other != draft.name:
            said = f"this job is '{other[:40]}' in other rows; call it the same"
            yield RowFault(draft.rows[0], ground.headings["job"], said)


def _report(file: LogFile, found: Sequence[Merged]) -> LogReport:
    changes = tuple(
        JobChange(
            job=each.draft.name,
            number=each.old.number if each.old else None,
            row=each.draft.rows[0],
            change="changed" if each.old else "opened",
            completed=each.worked is not None,
            added=len(each.added),
            changed=len(each.replaced),
            members=each.members,
        )
        for each in found
        if each.changes
    )
    return LogReport(
        dry_run=False,
        rows=len(file.table.rows),
        unchanged=len(found) - len(changes),
        changes=changes,
        ignored=file.table.ignored,
    )


def _told(found: Merged, job: Job) -> dict[str, object]:
    """What the audit trail says of a job of the file."""
    told: dict[str, object] = {
        "number": job.number,
        "attempts_added": len(found.added),
        "attempts_changed": len(found.replaced),
        "members": found.members,
    }
    if found.worked is not None:
        told["completed"] = job.week
    return told
