"""What follows from one try: done, tried again and when, or given up.

The waits are those that the specification of webhooks gives as its example.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import datetime, timedelta

from api.ports.hooks import HookMessage, Sent

WAITS_S = (0, 5, 300, 1800, 7200, 18_000, 36_000, 50_400, 72_000, 86_400)
"""Before each try, counted from the one before [s]; so many tries are made."""
LONGEST_S = 86_400
SLOWER_S = 60
"""The shortest wait where an endpoint says that it is too much for it [s]."""
SUCCESS = range(200, 300)
REDIRECTS = range(300, 400)
GONE = 410
OVERLOADED = frozenset({429, 502, 504})

Spread = Callable[[], float]
"""By how much a wait is stretched, so that many do not come at once: from 1 on."""


def after_try(
    message: HookMessage, sent: Sent, *, at: datetime, spread: Spread
) -> HookMessage:
    """The message as it is after a try, which ended at ``at``."""
    tried = replace(message, tries=message.tries + 1, answered=sent.status, due=at)
    if sent.status is not None and sent.status in SUCCESS:
        return replace(tried, status="delivered", reason="")
    tried = replace(tried, reason=reason_of(sent))
    if sent.status == GONE or tried.tries >= len(WAITS_S):
        return replace(tried, status="failed")
    wait_s = _wait_s(tried.tries, sent) * spread()
    return replace(tried, due=at + timedelta(seconds=wait_s))


def reason_of(sent: Sent) -> str:
    """Why a try failed, as a code."""
    if sent.status is None:
        return sent.reason
    if sent.status == GONE:
        return "gone"
    return "redirect" if sent.status in REDIRECTS else "http_status"


def _wait_s(tries: int, sent: Sent) -> float:
    least = SLOWER_S if sent.status in OVERLOADED else 0
    asked = min(sent.retry_after_s or 0, LONGEST_S)
    return max(WAITS_S[tries], least, asked)
