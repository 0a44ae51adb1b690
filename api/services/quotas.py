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
from api.services.installation import Installation
from api.services.snapshots import Snapshots

WINDOW_S = 60
VISITORS = 3
"""So many visitors of a page at least share the quota of its key [count]."""
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
    ) -> None:
        """Take the limit of each policy by name [requests/window]."""
        self._snapshots = snapshots
        self._clock = clock
        self._installation = installation
        self._limits = dict(limits)
        self._used_up: dict[str, int] = {}  # partition → the window it used up
        self._visits: dict[str, tuple[int, int]] = {}  # partition → window, count
        self._visiting = threading.Lock()

    def count(self, policy: str, who: str) -> QuotaStanding:
        """Count one request of ``who`` under a policy; how that leaves them.

        A request over the limit is not counted, and costs no query once the process
        knows that the window is used up.

        Raises:
            StorageUnavailable: it cannot be counted; nobody is let pass uncounted.
        """
        partition = self._partition(policy, who)
        now = self._clock.now().timestamp()
        begins = _window(partition, now)
        limit = self._limits[policy]
        if self._used_up.get(partition) == begins:
            count = limit + 1
        else:
            count = self._snapshots.count(partition, window=begins)
            if count > limit:
                self._remember(partition, begins)
        return _standing(policy, limit, count, left_s=begins + WINDOW_S - now)

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

    def _remember(self, partition: str, window: int) -> None:
        if len(self._used_up) >= _MOST_REMEMBERED:
            self._used_up.clear()
        self._used_up[partition] = window


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
