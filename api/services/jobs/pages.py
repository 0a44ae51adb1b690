"""Jobs page by page."""

from __future__ import annotations

from dataclasses import dataclass, replace

from api.ports import Storage
from api.ports.jobs import Job, JobFilter
from api.services.paging import check_limit, cut
from api.services.plain_text import sought


@dataclass(frozen=True, slots=True, kw_only=True)
class JobPage:
    """Some jobs, newest first, and whether there are more on either side."""

    jobs: tuple[Job, ...]
    older: bool
    newer: bool


def job_page(
    storage: Storage, wanted: JobFilter, *, limit: int, past: int | None, newer: bool
) -> JobPage:
    """The jobs next to one of them, as `Jobs.page` says. Raises InvalidInput."""
    check_limit(limit)
    meant = replace(wanted, text=sought(wanted.text))
    jobs = storage.read(
        lambda unit: unit.jobs.page(meant, limit=limit + 1, past=past, newer=newer)
    )
    shown, older, before = cut(jobs, limit=limit, begun=past is not None, back=newer)
    return JobPage(jobs=shown, older=older, newer=before)
