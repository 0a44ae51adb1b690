"""What goes wrong on the way to a feed, in words without a byte of its answer."""

from __future__ import annotations

import http.client
import ssl
from collections.abc import Callable
from typing import TypeVar

from urllib3.exceptions import HTTPError, ProtocolError, ReadTimeoutError

from api.outbound.deadline import Deadline
from api.ports.feeds import FeedFailed

T = TypeVar("T")


class TryAgain(FeedFailed):
    """Trouble that may pass; ``retry_after_s`` is the pause the feed asks for [s]."""

    def __init__(
        self, reason: str, message: str, *, retry_after_s: float | None = None
    ) -> None:
        super().__init__(reason, message)
        self.retry_after_s = retry_after_s


def told(work: Callable[[], T], deadline: Deadline) -> T:
    """What ``work`` returns; what it raises, in words.

    Raises:
        TryAgain: the trouble may pass.
        FeedFailed: it may not, or the deadline is over.
    """
    try:
        return work()
    except (OSError, HTTPError, http.client.HTTPException) as error:
        if deadline.left_s <= 0:
            raise deadline.missed() from None
        raise _in_words(error) from None


def _in_words(error: Exception) -> FeedFailed:
    if isinstance(error, ssl.SSLCertVerificationError):
        return FeedFailed(
            "bad_certificate",
            "The feed could not prove that it is who the URL names: its certificate is "
            "too old, of another name or of an unknown issuer. Nothing was sent.",
        )
    if isinstance(error, ssl.SSLError):
        return FeedFailed(
            "bad_encryption",
            "The feed's machine took the connection but not its encryption. Nothing "
            "was sent. Check whether the URL has to begin with https.",
        )
    if isinstance(error, TimeoutError | ReadTimeoutError):
        return FeedFailed(
            "timeout", "The feed took the connection and then was silent for too long."
        )
    if isinstance(error, OSError | ProtocolError):
        return TryAgain(
            "broken_off",
            "The connection to the feed broke off before the answer's end.",
        )
    return FeedFailed(
        "bad_headers",
        "The feed's answer does not begin as HTTP does, or with far too much.",
    )
