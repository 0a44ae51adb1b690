"""One attempt to deliver a message: signed, bounded, never redirected.

Of the answer only status and Retry-After are read; the body is not even taken.
"""

from __future__ import annotations

from datetime import UTC, datetime

from urllib3 import HTTPResponse

from api.hooks.signing import signed_headers
from api.outbound.answers import retry_after_s
from api.outbound.deadline import Deadline, Limits
from api.outbound.safe_http import Reach, SafeAdapter, safe_session, secured
from api.ports.feeds import FeedFailed
from api.ports.hooks import Hook, HookMessage, Sent

LIMITS = Limits(total_s=15, body_bytes=0)


class HttpSender:
    """Sends messages to the endpoints of others.

    Args:
        reach: where it may go.
        limits: of one attempt.
    """

    def __init__(self, reach: Reach, *, limits: Limits = LIMITS) -> None:
        self._reach = reach
        self._limits = limits

    def send(self, hook: Hook, message: HookMessage, *, at: datetime) -> Sent:
        """What came of one attempt; it never raises for what others do."""
        body = message.body.encode()
        headers = signed_headers(hook.secrets, message.id, int(at.timestamp()), body)
        adapter = SafeAdapter(self._reach, limits=self._limits, reader=_unread)
        with secured(safe_session(self._reach), adapter) as session:
            try:
                answer = session.post(
                    hook.url, data=body, headers=headers, allow_redirects=False
                )
            except FeedFailed as error:
                return Sent(reason=error.reason)
        wait = retry_after_s(answer.headers.get("Retry-After"), now=datetime.now(UTC))
        return Sent(status=answer.status_code, retry_after_s=wait)


def _unread(_answer: HTTPResponse, _deadline: Deadline) -> bytes:
    """Any status will do, and the body is left where it is."""
    return b""
