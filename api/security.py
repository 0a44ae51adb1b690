"""Who may call what, and the headers that keep browsers from doing harm.

References:
    [1] RFC 6750, Bearer tokens: only in the Authorization header (§2.1), the
        challenge of a refused request (§3).
    [2] OWASP ASVS 5.0, 3.4: security headers; 14.3.2: no-store.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from enum import StrEnum
from types import MappingProxyType
from typing import Protocol

from flask import Flask, Response, request

from api.errors import Refused
from api.ports import KeyRecord, NotAuthenticated
from api.problems import NOT_ALLOWED, NOT_AUTHENTICATED
from api.request_log import UNLISTED

LONGEST_TOKEN = 256

_BEARER = re.compile(r"bearer +([A-Za-z0-9._~+/-]+=*)", re.ASCII | re.IGNORECASE)
_PAGE_POLICY = (
    "default-src 'none'; style-src 'self'; img-src 'self' data:; script-src 'self'; "
    "form-action 'self'; base-uri 'none'; object-src 'none'; frame-ancestors 'none'"
)
_BENCH_POLICY = f"{_PAGE_POLICY}; connect-src 'self'"
_DATA_POLICY = "default-src 'none'; base-uri 'none'; frame-ancestors 'none'"
_ALWAYS = (
    ("X-Content-Type-Options", "nosniff"),
    ("Referrer-Policy", "no-referrer"),
    ("Cross-Origin-Opener-Policy", "same-origin"),
)
_ONE_YEAR_OF_TLS = "max-age=31536000"


class Scope(StrEnum):
    """What a key has to reach for an operation; OPEN needs no key."""

    OPEN = "open"
    WINDOW = "window"
    SHOP = "shop"
    BENCH = "bench"


OPEN, WINDOW, SHOP, BENCH = Scope.OPEN, Scope.WINDOW, Scope.SHOP, Scope.BENCH

REACH: Mapping[str, frozenset[Scope]] = MappingProxyType(
    {
        "bench": frozenset({BENCH, SHOP, WINDOW}),
        "shop": frozenset({SHOP, WINDOW}),
        "window": frozenset({WINDOW}),
    }
)
"""The scopes that a key of each kind reaches."""


class KeyCheck(Protocol):
    """Knows a key from its token."""

    def authenticate(self, token: str) -> KeyRecord:
        """The key of ``token``. Raises NotAuthenticated."""
        ...


def bearer_token(header: str | None) -> str | None:
    """The token in an Authorization header, None if there is no usable one.

    >>> bearer_token("Bearer fw_window_00_secret")
    'fw_window_00_secret'
    >>> bearer_token("Basic Zm9v")
    """
    if header is None or len(header) > LONGEST_TOKEN:
        return None
    found = _BEARER.fullmatch(header)
    return found[1] if found else None


def authorise(scope: Scope | None, keys: KeyCheck) -> KeyRecord | None:
    """The key behind the present request; None where no key is needed.

    Where nobody declared a scope, no key reaches.

    Raises:
        Refused: 401 without a valid key; 403 if its scope does not reach ``scope``.
    """
    if scope is OPEN:
        return None
    token = bearer_token(request.headers.get("Authorization"))
    try:
        key = keys.authenticate(token or "")
    except NotAuthenticated:  # one text, whatever was wrong
        raise Refused(NOT_AUTHENTICATED, NOT_AUTHENTICATED.meaning) from None
    if scope not in REACH[key.scope]:
        raise Refused(
            NOT_ALLOWED,
            f"This needs a key that reaches '{scope}'; the key sent is a "
            f"{key.scope} key.",
            headers={
                "WWW-Authenticate": 'Bearer realm="fineweight", '
                f'error="insufficient_scope", scope="{scope}"'
            },
        )
    return key


def install(app: Flask) -> None:
    """Put the protecting headers on every answer of ``app``."""
    app.after_request(_protect)


def _policy() -> str:
    """What a page may load; those of the bench ask for their own parts anew."""
    return _BENCH_POLICY if request.path.startswith("/bench") else _PAGE_POLICY


def _protect(response: Response) -> Response:
    headers = response.headers
    page = response.mimetype == "text/html"
    said = {name.lower() for name, _ in headers}
    headers.extend(_ALWAYS)  # no view sets one of these
    # A picture names the hash of its own style; nothing else says a policy itself.
    if "content-security-policy" not in said:
        headers.add("Content-Security-Policy", _policy() if page else _DATA_POLICY)
    if "cache-control" not in said:
        headers.add("Cache-Control", "no-store")
    if request.path.startswith(UNLISTED):
        headers["X-Robots-Tag"] = "noindex"
    if request.is_secure:
        headers["Strict-Transport-Security"] = _ONE_YEAR_OF_TLS
    return response
