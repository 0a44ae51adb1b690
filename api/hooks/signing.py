"""Signatures of messages, by the Standard Webhooks specification, version 1.0.0.

A signature is HMAC-SHA256 over ``id.timestamp.body``, with a secret that only the
endpoint knows beside us. While secrets are changed there is one for each of them.
"""

from __future__ import annotations

import base64
import hashlib
import hmac
from collections.abc import Iterable, Mapping

PREFIX = "whsec_"
VERSION = "v1"


def signature(secret: str, message_id: str, timestamp: int, body: bytes) -> str:
    """The signature of one attempt.

    Args:
        secret: ``whsec_`` and the key in Base64.
        message_id: the same for every attempt; holds no dot.
        timestamp: of this attempt [s since 1970].
        body: the very bytes that are sent.
    """
    key = base64.b64decode(secret.removeprefix(PREFIX), validate=True)
    signed = f"{message_id}.{timestamp}.".encode() + body
    digest = hmac.new(key, signed, hashlib.sha256).digest()
    return f"{VERSION},{base64.b64encode(digest).decode('ascii')}"


def signed_headers(
    secrets: Iterable[str], message_id: str, timestamp: int, body: bytes
) -> Mapping[str, str]:
    """The headers of one attempt, with a signature for each secret."""
    found = [signature(secret, message_id, timestamp, body) for secret in secrets]
    return {
        "Content-Type": "application/json",
        "webhook-id": message_id,
        "webhook-timestamp": str(timestamp),
        "webhook-signature": " ".join(found),
    }
