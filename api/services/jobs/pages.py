"""Jobs page by page."""

from __future__ import annotations

import unicodedata
from dataclasses import dataclass, replace

from api.ports import Storage
from api.ports.jobs import Job, JobFilter
from api.services.paging import cut
from pricing.errors import InvalidInput

MOST_ON_A_PAGE = 100


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
    if not 1 <= limit <= MOST_ON_A_PAGE:
        raise InvalidInput(
            f"limit {limit} is out of range; ask for 1 to {MOST_ON_A_PAGE}",
            path=("limit",),
        )
    meant = replace(wanted, text=unicodedata.normalize("NFC", wanted.text.strip()))
    jobs = storage.read(
        lambda unit: unit.jobs.page(meant, limit=limit + 1, past=past, newer=newer)
    )
    shown, older, before = cut(jobs, limit=limit, begun=past is not None, back=newer)
    return JobPage(jobs=shown, older=older, newer=before)
