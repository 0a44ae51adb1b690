"""What an import of a bench log has changed, or would change."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal


@dataclass(frozen=True, slots=True, kw_only=True)
class JobChange:
    """What becomes of one job.

    Attributes:
        job: what the file calls it; ``number`` what it is called from now on, None
            for one that would be opened.
        row: the first of its rows.
        completed: whether it is completed by the file.
        added, changed: attempts [count].
        members: what else changes.
    """

    job: str
    number: str | None
    row: int
    change: Literal["opened", "changed"]
    completed: bool
    added: int
    changed: int
    members: tuple[str, ...]

    def document(self) -> dict[str, object]:
        """The change as it is written on the wire."""
        return {
            "job": self.job,
            "number": self.number,
            "row": self.row,
            "change": self.change,
            "completed": self.completed,
            "attempts_added": self.added,
            "attempts_changed": self.changed,
            "members": self.members,
        }


@dataclass(frozen=True, slots=True, kw_only=True)
class LogReport:
    """What an import changes, or would change.

    Attributes:
        dry_run: whether nothing was written.
        rows: of the file, blank ones and the header apart [count].
        unchanged: jobs that the file says nothing new of [count].
        changes: every job that is opened or changed, as in the file.
        ignored: headings that mean nothing here.
    """

    dry_run: bool
    rows: int
    unchanged: int
    changes: tuple[JobChange, ...]
    ignored: tuple[str, ...]

    def count(self, change: str) -> int:
        """How many jobs are opened or changed [count]."""
        return sum(each.change == change for each in self.changes)

    @property
    def completed(self) -> int:
        """How many jobs are completed [count]."""
        return sum(each.completed for each in self.changes)

    @property
    def attempts(self) -> int:
        """How many attempts are added [count]."""
        return sum(each.added for each in self.changes)

    def numbered(self, numbers: dict[str, str]) -> LogReport:
        """The report with the numbers of jobs that were opened."""
        changes = tuple(
            replace(each, number=numbers.get(each.job, each.number))
            for each in self.changes
        )
        return replace(self, changes=changes)

    def document(self) -> dict[str, object]:
        """The report as it is written on the wire."""
        return {
            "dry_run": self.dry_run,
            "rows": self.rows,
            "opened": self.count("opened"),
            "changed": self.count("changed"),
            "completed": self.completed,
            "unchanged": self.unchanged,
            "attempts_added": self.attempts,
            "changes": [each.document() for each in self.changes],
            "ignored": self.ignored,
        }
