"""What is written down about requests: answers to replay, quotas, the audit trail."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from typing import Protocol


@dataclass(frozen=True, slots=True, kw_only=True)
class Once:
    """A request that must have its effect once.

    Attributes:
        credential: id of the key it came with, so that no other reads the answer.
        operation: name of the operation.
        key: the caller's Idempotency-Key.
        fingerprint: SHA-256 of method, path and body, in hex.
    """

    credential: str
    operation: str
    key: str
    fingerprint: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Answered:
    """An answer as it was sent."""

    status: int
    headers: Mapping[str, str] = field(default_factory=dict)
    body: str = ""


class ReplayStore(Protocol):
    """Answers already given, to be given again."""

    def find(self, once: Once, *, since: datetime) -> tuple[str, Answered] | None:
        """Fingerprint and answer under the same credential, operation and key."""
        ...

    def add(self, once: Once, answer: Answered, *, at: datetime) -> bool:
        """Whether the answer is kept; False where there is one, however old.

        What has grown too old for `find` is to be forgotten first.
        """
        ...

    def forget(self, *, before: datetime) -> int:
        """Drop what is older; how many there were [count]."""
        ...


class SecretStore(Protocol):
    """Random secrets of this installation, such as the one that signs cursors."""

    def get(self, name: str) -> str | None: ...  # noqa: D102
    def add(self, name: str, value: str) -> bool:
        """Whether it is kept; False where there was one already."""
        ...


@dataclass(frozen=True, slots=True, kw_only=True)
class AuditEntry:
    """One line of the audit trail: who did what, when.

    Attributes:
        id: rising; 0 until it is stored.
        by: the id of a key, or a name.
        via: ``api``, ``page`` or ``command line``.
        action: as in ``quote.accepted``.
        subject: what it was done to: the id of a quote or key, the key of a coin…
        before, after: what changed, as small plain documents; None for nothing.
        request: id of the request, as in the log; empty on the command line.
        by_label: label of the key it was done with, for who reads it; it is the
            key's and not kept with the line. None where it was no key.
    """

    id: int = 0
    at: datetime
    by: str
    via: str
    action: str
    subject: str
    before: Mapping[str, object] | None = None
    after: Mapping[str, object] | None = None
    request: str = ""
    by_label: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class AuditFilter:
    """Which lines are asked for; what is empty does not matter.

    Attributes:
        action: whole (``quote.accepted``) or a kind of thing (``quote``).
        subject_too: another name of the subject, which does as well.
    """

    action: str = ""
    subject: str = ""
    subject_too: str = ""
    by: str = ""
    since: datetime | None = None


class AuditLog(Protocol):
    """The audit trail; lines are added and read, and the database refuses the rest."""

    def add(self, entry: AuditEntry) -> None: ...  # noqa: D102
    def add_all(self, lines: Sequence[AuditEntry]) -> None:
        """Write many lines, in their order."""
        ...

    def page(
        self, wanted: AuditFilter, *, limit: int, past: int | None, newer: bool = False
    ) -> tuple[AuditEntry, ...]:
        """At most ``limit`` lines, newest first, past an id, as for quotes."""
        ...
