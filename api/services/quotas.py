"""How many requests one caller may make in a window of time.

Windows are fixed, and begin at a moment of its own for each caller, so that not
all come back in the same second. They are counted in the database: however many
processes serve, the quota is the same. The share that one visitor of a page has in the
quota of the page's key is counted in each process by itself: it keeps one from using up
what is there for all, and need not be exact for that.
"""

from __future__ import annotations

import hashlib
import hmac
import math
import threading
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache

from api.ports import Clock
from api.services.counting_ahead import CountingAhead
from api.services.installation import Installation
from api.services.snapshots import Snapshots

WINDOW_S = 60
VISITORS = 3
"""So many visitors of a page at least share the quota of its key [count]."""
ASKED_AGAIN_AFTER_S = 0.1
"""How long a window is taken as used up: another process may give some back [s]."""
_MOST_REMEMBERED = 10_000


@dataclass(frozen=True, slots=True, kw_only=True)
class QuotaStanding:
    """What is left to a caller.

    Attributes:
        policy: name of the policy.
        limit: requests allowed in a window [count].
        left: how many are left in this one [count].
        ends_in_s: when it ends, rounded up [s].
        passed: whether the present request is allowed.
    """

    policy: str
    limit: int
    left: int
    ends_in_s: int
    passed: bool


class Quotas:
    """Counts requests by policy and caller."""

    def __init__(
        self,
        snapshots: Snapshots,
        clock: Clock,
        *,
        installation: Installation,
        limits: Mapping[str, int],
        ahead: CountingAhead,
    ) -> None:
        """Take what counts, one by one or ahead, and how many may be counted.

        Args:
            snapshots: counts one by one.
            clock: the time of day.
            installation: hides who asks.
            limits: of each policy by name [requests/window].
            ahead: counts some at a time.
        """
        self._snapshots = snapshots
        self._clock = clock
        self._installation = installation
        self._limits = dict(limits)
        self._ahead = ahead
        # partition → its window that is used up, and until when that is taken as known
        self._used_up: dict[str, tuple[int, float]] = {}
        self._visits: dict[str, tuple[int, int]] = {}  # partition → window, count
        self._visiting = threading.Lock()

    def count(self, policy: str, who: str, *, ahead: bool = False) -> QuotaStanding:
        """Count one request of ``who`` under a policy; how that leaves them.

        A request over the limit is not counted, and costs no query where the process
        has just been told that the window is used up.

        Args:
            policy: its name.
            who: the caller.
            ahead: whether a busy process may count several at once, and go on for a
                moment with what was stored then.

        Raises:
            StorageUnavailable: it cannot be counted; nobody is let pass uncounted.
        """
        partition = self._partition(policy, who)
        now = self._clock.now().timestamp()
        begins = _window(partition, now)
        limit = self._limits[policy]
        if self._is_used_up(partition, begins, now):
            count = None
        else:
            counted = self._ahead.count if ahead else self._one
            count = counted(partition, begins, limit)
            if count is None:
                self._remember(partition, begins, now)
        left_s = begins + WINDOW_S - now
        return _standing(
            policy, limit, limit + 1 if count is None else count, left_s=left_s
        )

    def visit(self, policy: str, who: str, visitor: str) -> QuotaStanding:
        """Count one request of one of the many who share the quota of ``who``.

        Each may have a third of it, in each process. Who has none left uses up
        nothing of what all have.
        """
        share = math.ceil(self._limits[policy] / VISITORS)
        name = f"{policy}-visitor"
        partition = self._partition(name, f"{who}\0{visitor}")
        now = self._clock.now().timestamp()
        begins = _window(partition, now)
        with self._visiting:
            window, counted = self._visits.get(partition, (begins, 0))
            count = 1 + (counted if window == begins else 0)
            if partition not in self._visits and len(self._visits) >= _MOST_REMEMBERED:
                self._visits.clear()
            self._visits[partition] = begins, count
        return _standing(name, share, count, left_s=begins + WINDOW_S - now)

    def _partition(self, policy: str, who: str) -> str:
        """The caller's name in the table, which tells nobody who it is."""
        return _partition(self._installation.secret("quotas"), policy, who)

    def _one(self, partition: str, window: int, limit: int) -> int | None:
        told = self._snapshots.count(partition, window=window, limit=limit)
        return told and told.number

    def _is_used_up(self, partition: str, window: int, now: float) -> bool:
        of, until = self._used_up.get(partition, (None, now))
        return of == window and now < until

    def _remember(self, partition: str, window: int, now: float) -> None:
        if len(self._used_up) >= _MOST_REMEMBERED:
            self._used_up.clear()
        self._used_up[partition] = window, now + ASKED_AGAIN_AFTER_S

    def close(self) -> None:
        """Give back what was counted ahead."""
        self._ahead.give_back(all_of_it=True)


@lru_cache(maxsize=1024)
def _partition(secret: bytes, policy: str, who: str) -> str:
    digest = hmac.new(secret, f"{policy}\0{who}".encode(), hashlib.sha256)
    return f"{policy}:{digest.hexdigest()[:32]}"


def _standing(policy: str, limit: int, count: int, *, left_s: float) -> QuotaStanding:
    return QuotaStanding(
        policy=policy,
        limit=limit,
        left=max(0, limit - count),
        ends_in_s=max(1, math.ceil(left_s)),
        passed=count <= limit,
    )


def _window(partition: str, now: float) -> int:
    """When the present window of a caller began [s since 1970]."""
    shift = int(partition[-8:], 16) % WINDOW_S
    return math.floor((now - shift) / WINDOW_S) * WINDOW_S + shift
