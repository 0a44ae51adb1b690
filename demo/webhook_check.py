"""Messages from the workshop: whether they are genuine, and each of them once.

A shop of any kind can take this as it is; it needs nothing but Python.

References:
    [1] Standard Webhooks 1.0.0: webhook-id, webhook-timestamp and webhook-signature,
        which is HMAC-SHA256 of "id.timestamp.body" by a secret that both sides know.
"""

from __future__ import annotations

import base64
import hashlib
import hmac
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from threading import Lock

TOLERANCE_S = 300
"""How far the time of a message may be off [s]; what is older may be a replay."""
PREFIX = "whsec_"
DIGITS = 12
REMEMBERED = 10_000


def is_genuine(
    secrets: Iterable[str], headers: Mapping[str, str], body: bytes, *, now: float
) -> bool:
    """Whether a message was signed with one of our secrets, and just now.

    Args:
        secrets: as the workshop gave them; two while they are changed.
        headers: of the request.
        body: its very bytes, as they came.
        now: the time [s since 1970].
    """
    name, at = headers.get("webhook-id", ""), headers.get("webhook-timestamp", "")
    if not (at.isascii() and at.isdigit() and len(at) <= DIGITS):
        return False
    if not name or abs(now - int(at)) > TOLERANCE_S:
        return False
    given = headers.get("webhook-signature", "").encode().split(b" ")
    right = [_signature(each, f"{name}.{at}.".encode() + body) for each in secrets]
    # In constant time, so that nobody finds a signature letter by letter.
    return any(hmac.compare_digest(one, each) for one in given for each in right)


def _signature(secret: str, signed: bytes) -> bytes:
    key = base64.b64decode(secret.removeprefix(PREFIX), validate=True)
    return b"v1," + base64.b64encode(hmac.digest(key, signed, hashlib.sha256))


@dataclass
class Once:
    """Does what a message asks for once, however often the message comes.

    A message comes again if our answer was lost. Where the work is written to a
    database, write the message's id there too, in the same transaction.
    """

    _done: dict[str, None] = field(default_factory=dict)
    _lock: Lock = field(default_factory=Lock)

    def __call__(self, name: str, work: Callable[[], None]) -> None:
        """Do it, unless it was done. What fails was not: it is tried again."""
        with self._lock:
            if name in self._done:
                return
            work()
            self._done[name] = None
            if len(self._done) > REMEMBERED:
                del self._done[next(iter(self._done))]  # the oldest
