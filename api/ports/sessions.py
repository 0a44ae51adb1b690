"""Browsers that are at the bench, the passphrase, and tries to give it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Protocol


@dataclass(frozen=True, slots=True, kw_only=True)
class Session:
    """A browser at the bench.

    Attributes:
        digest: SHA-256 of what the browser is known by, in hex.
        signed_in: whether the passphrase was given; else it is on this machine.
        seen_at: when it last asked for a page, to the minute.
    """

    digest: str
    signed_in: bool
    created_at: datetime
    seen_at: datetime

    @property
    def id(self) -> str:
        """What the audit trail calls it; opens nothing."""
        return self.digest[:16]


class SessionStore(Protocol):
    """The sessions there are."""

    def get(self, digest: str) -> Session | None: ...  # noqa: D102
    def add(self, session: Session) -> None: ...  # noqa: D102
    def touch(self, digest: str, *, when: datetime) -> None: ...  # noqa: D102
    def remove(self, digest: str) -> bool:
        """Whether it was there and is gone."""
        ...

    def remove_signed_in(self) -> int:
        """End every session that gave the passphrase; how many there were [count]."""
        ...

    def forget(
        self,
        *,
        made_before: datetime,
        signed_in_before: datetime,
        seen_before: datetime,
    ) -> None:
        """Drop old ones: of this machine, and those signed in too long or unseen."""
        ...


class SignInStore(Protocol):
    """The passphrase as it is kept, and tries to give it."""

    def passphrase(self) -> str | None:
        """What the passphrase is checked by, None where there is none."""
        ...

    def keep(self, hashed: str, *, when: datetime) -> None: ...  # noqa: D102
    def clear(self) -> bool:
        """Whether there was one."""
        ...

    def add_try(self, who: str, *, when: datetime) -> int:
        """Note a try; its number."""
        ...

    def remove_try(self, number: int) -> None:
        """Forget a try that was right."""
        ...

    def tries(self, *, since: datetime, who: str | None = None) -> tuple[datetime, ...]:
        """When there were tries, of one or of all, oldest first."""
        ...

    def forget_tries(self, *, before: datetime) -> None:
        """Drop older ones."""
        ...
