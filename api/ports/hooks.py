"""Hooks: who wants to be told what, what there is to tell, and what came of it."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from typing import Literal, Protocol

from api.ports.quotes import StoredQuote

HookEvent = Literal["listing.prices_changed", "quote.accepted", "quote.expired"]
HOOK_EVENTS: tuple[HookEvent, ...] = (
    "listing.prices_changed",
    "quote.accepted",
    "quote.expired",
)
MessageStatus = Literal["waiting", "delivered", "failed"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Hook:
    """An endpoint of somebody who wants to be told.

    Attributes:
        events: what is told.
        secrets: that messages are signed with, the newest first; two while they
            are changed.
        why_disabled: why the program switched it off; empty where it did not.
        version: counted up by every change.
        since: from when on it is told what happens.
    """

    id: str
    url: str
    events: tuple[HookEvent, ...]
    secrets: tuple[str, ...] = field(repr=False)
    enabled: bool = True
    why_disabled: str = ""
    version: int = 1
    created_at: datetime
    since: datetime

    def wants(self, event: HookEvent, at: datetime) -> bool:
        """Whether it is told of something that happened at this time."""
        return self.enabled and event in self.events and at >= self.since


@dataclass(frozen=True, slots=True, kw_only=True)
class Happening:
    """Something to be told, written down in the transaction that did it.

    Attributes:
        seq: rises in the order of writing; 0 until it is stored.
        quote: id of the quote it is about; empty for prices.
        skus: of the listings it is about.
        run: ``seq`` of the repricing whose listings it is about, or None.
        reached: ``seq`` of the listing of the run up to which it is told.
    """

    seq: int = 0
    event: HookEvent
    at: datetime
    quote: str = ""
    skus: tuple[str, ...] = ()
    run: int | None = None
    reached: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class HookMessage:
    """What is sent to one endpoint: the same bytes under the same id at each try.

    Attributes:
        seq: messages of a hook are sent in its order.
        tries: how often it was sent [count].
        due: when it is sent next, or was last.
        answered: the status of the last answer; None where none came.
        reason: why the last try failed, as a code; empty where it did not.
    """

    seq: int = 0
    id: str
    hook: str
    event: HookEvent
    body: str
    created_at: datetime
    status: MessageStatus = "waiting"
    tries: int = 0
    due: datetime
    answered: int | None = None
    reason: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Waiting:
    """What waits for one hook, and how its oldest message stands.

    Attributes:
        messages: how many wait [count].
        tries: how often the oldest was sent [count].
        answered: the status of its last answer; None where none came.
        reason: why its last try failed, as a code; empty where there was none.
        next_try_at: when it is sent next, and no other before it; None where
            nothing waits.
    """

    messages: int = 0
    tries: int = 0
    answered: int | None = None
    reason: str = ""
    next_try_at: datetime | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Sent:
    """What came of one try: a status, or the reason why there is none."""

    status: int | None = None
    reason: str = ""
    retry_after_s: float | None = None


class Sender(Protocol):
    """Sends messages."""

    def send(self, hook: Hook, message: HookMessage, *, at: datetime) -> Sent:
        """What came of one try; it raises nothing for what others do."""
        ...

    def refusal(self, url: str) -> str:
        """Why a URL cannot be an endpoint, as a code; empty where it can."""
        ...


class HookStore(Protocol):
    """Hooks, what there is to tell, and the messages made of it."""

    def all(self) -> tuple[Hook, ...]:
        """Every hook, oldest first."""
        ...

    def get(self, hook_id: str) -> Hook | None: ...  # noqa: D102 - the name says it
    def add(self, hook: Hook) -> None: ...  # noqa: D102
    def replace(self, hook: Hook, *, expected: int) -> bool:
        """Whether the hook was there at version ``expected`` and is replaced.

        Its version becomes one more.
        """
        ...

    def remove(self, hook_id: str, *, expected: int) -> bool:
        """Whether the hook was there at that version and is gone with its messages."""
        ...

    def note(self, happening: Happening) -> None:
        """Write down something to be told."""
        ...

    def next_happening(self) -> Happening | None:
        """The oldest that is not told yet."""
        ...

    def reached(self, seq: int, listing: int) -> None:
        """It is told up to this listing."""
        ...

    def forget_happening(self, seq: int) -> None:
        """It is told."""
        ...

    def listings_of(
        self, run: int, *, past: int, limit: int
    ) -> tuple[tuple[int, str], ...]:
        """Published listings whose prices a run moves: ``seq`` and sku, in order."""
        ...

    def expired(self, *, after: datetime, until: datetime) -> tuple[StoredQuote, ...]:
        """Open quotes whose time ended after the one moment and by the other."""
        ...

    def add_messages(self, messages: Sequence[HookMessage]) -> None:
        """Store messages; they are sent in the order given."""
        ...

    def get_message(self, message_id: str) -> HookMessage | None: ...  # noqa: D102
    def heads(self) -> tuple[HookMessage, ...]:
        """Of each hook the waiting message that is to be sent before its others."""
        ...

    def waiting(self) -> Mapping[str, Waiting]:
        """What waits, by the id of its hook; nothing where nothing does."""
        ...

    def tried(self, message: HookMessage) -> None:
        """Write down what came of a try."""
        ...

    def fail_waiting(self, hook_id: str, reason: str) -> int:
        """Give up all that waits for a hook; how many there were [count]."""
        ...

    def failures(self, hook_id: str, *, limit: int) -> tuple[HookMessage, ...]:
        """Messages that were given up, oldest first."""
        ...

    def again(self, hook_id: str, ids: Collection[str] | None, *, now: datetime) -> int:
        """Let failed messages, or all of them, wait again; how many [count]."""
        ...

    def forget(self, *, before: datetime) -> None:
        """Drop messages that were delivered or given up before."""
        ...

    def lease(self, holder: str, *, now: datetime, until: datetime) -> bool:
        """Whether ``holder`` may deliver until then: nobody else may at ``now``."""
        ...

    def release(self, holder: str) -> None:
        """Let others deliver, if ``holder`` was the one."""
        ...

    def expired_until(self) -> datetime | None:
        """Up to when quotes that ended were told."""
        ...

    def set_expired_until(self, when: datetime) -> None: ...  # noqa: D102
