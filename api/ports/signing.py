"""Keys that prices held for buyers are signed with."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Protocol


@dataclass(frozen=True, slots=True, kw_only=True)
class SigningKey:
    """A pair of keys for Ed25519 signatures.

    Attributes:
        kid: its name, which follows from the public key.
        public, private: 32 bytes each in base64url without padding; ``private`` is
            None once nothing is signed with it any more.
        retired_at: when another took its place; None for the one in use.
    """

    kid: str
    public: str
    private: str | None
    created_at: datetime
    retired_at: datetime | None = None


class SigningKeyStore(Protocol):
    """The keys, the one in use and those of before."""

    def all(self) -> tuple[SigningKey, ...]:
        """Every key, newest first."""
        ...

    def add(self, key: SigningKey) -> None: ...  # noqa: D102 - the name says it
    def retire(self, kid: str, *, at: datetime) -> bool:
        """Whether it was in use, and is retired now; its private half is gone."""
        ...
