"""Secret headers of feeds: which may be set, and when they are forgotten.

No message here holds a value.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from urllib.parse import urlsplit

from api.ports import Feed, StoredFeed
from pricing.errors import Fault, InvalidInput

MOST_SECRET = 4096

_SENDABLE = re.compile(r"[!-~](?:[ -~]*[!-~])?", re.ASCII)


def still_meant(
    kept: Mapping[str, str], before: Feed, after: Feed
) -> Mapping[str, str]:
    """Those of ``kept`` that go with a feed when it is changed."""
    if _server(before) != _server(after):
        return {}  # a secret is for the server it was given for
    return {name: kept[name] for name in after.secret_headers if name in kept}


def without_values(stored: StoredFeed) -> dict[str, object]:
    """What may be told of a feed for ever: nothing that may be a secret after all.

    Whoever overlooks the secret headers puts one into a plain header, or behind the
    question mark of the address.
    """
    told = dict(stored.document)
    url, mark, _ = str(told.get("url", "")).partition("?")
    told["url"] = f"{url}?…" if mark else url
    headers = told.get("headers")
    if isinstance(headers, Mapping):
        told["headers"] = sorted(headers)
    told |= {"revision": stored.revision, "secrets_set": list(stored.secrets_set)}
    return told


def _server(feed: Feed) -> tuple[str, str]:
    parts = urlsplit(feed.url)
    return parts.scheme.lower(), parts.netloc.lower()


def check_secrets(secrets: Mapping[str, str], feed: Feed) -> None:
    """Raise InvalidInput, every fault listed, for what a feed cannot send."""
    named = ", ".join(feed.secret_headers) or "none"
    faults = [
        Fault((name,), f"the feed names no such secret header; it names {named}")
        for name in secrets
        if name not in feed.secret_headers
    ]
    faults += [
        Fault(
            (name,),
            "the value cannot be sent; give one line of plain characters, at most "
            f"{MOST_SECRET}, with no blanks at its ends",
        )
        for name, value in secrets.items()
        if len(value) > MOST_SECRET or not _SENDABLE.fullmatch(value)
    ]
    if faults:
        raise InvalidInput(faults[0].message, path=faults[0].path, faults=tuple(faults))
