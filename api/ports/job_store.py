"""Where the bench log is kept."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from datetime import datetime
from typing import Protocol

from api.ports.jobs import (
    Job,
    JobFilter,
    JobLine,
    JobLog,
    JobStage,
    LoggedAttempt,
    LoggedCoins,
    StageTimer,
    Worked,
)


class JobStore(Protocol):
    """Jobs with their attempts, coins and timers; no job is ever removed."""

    def next_numbers(self, year: int, how_many: int) -> int:
        """The first of so many free numbers of a year, counted from 1."""
        ...

    def add(self, new: Sequence[Job]) -> tuple[Job, ...]:
        """The jobs with the ``seq`` they were given; they rise.

        Raises Conflict where a quote has its job already, or a reference is in use.
        """
        ...

    def get(self, job_id: str, *, locked: bool = False) -> Job | None:
        """The job of this id; ``locked`` keeps other changes of it waiting."""
        ...

    def find(self, names: Collection[str]) -> Mapping[str, tuple[Job, ...]]:
        """Jobs by what people call them: id, number, reference, or quote's number."""
        ...

    def page(
        self, wanted: JobFilter, *, limit: int, past: int | None, newer: bool = False
    ) -> tuple[Job, ...]:
        """At most ``limit`` jobs, newest first, as `QuoteStore.page`."""
        ...

    def log(self, jobs: Collection[Job]) -> Mapping[int, JobLog]:
        """What was written down for each, by ``seq``; attempts in their order."""
        ...

    def change(self, new: Job, *, expected: int) -> bool:
        """Whether the job was at ``expected`` and is now as ``new``, a version on.

        Checking and writing are one statement. Only status, completion, money and
        result are written, and the version. Rows of lines and stages stay.
        """
        ...

    def change_all(self, new: Sequence[Job]) -> None:
        """Change many, each at its ``version``. Raises Conflict where one is not."""
        ...

    def add_attempts(self, new: Sequence[tuple[int, LoggedAttempt]]) -> None:
        """Write attempts down, each with the ``seq`` of its job and its number."""
        ...

    def replace_attempt(self, job: int, attempt: LoggedAttempt) -> bool:
        """Whether the job has an attempt of this number, and it is this now."""
        ...

    def remove_attempt(self, job: int, n: int) -> bool:
        """Whether there was such an attempt; its number is free only if the last."""
        ...

    def set_coins(self, coins: Mapping[int, Sequence[LoggedCoins]]) -> None:
        """Write the coins of jobs down, by ``seq``, in place of those before."""
        ...

    def start_timer(self, job: int, timer: StageTimer) -> bool:
        """Whether no timer ran for the job, and this one does now."""
        ...

    def stop_timer(self, job: int, *, started_at: datetime) -> bool:
        """Whether the timer that started then was running, and is gone."""
        ...

    def set_results(self, worked: Sequence[Worked]) -> None:
        """Write the lines and stages of results, in place of those before."""
        ...

    def clear_results(self, job: int) -> None:
        """Remove the lines and stages of a job that is open again."""
        ...

    def results(self, job: int) -> tuple[tuple[JobLine, ...], tuple[JobStage, ...]]:
        """The lines and stages of a completed job, in their order."""
        ...
