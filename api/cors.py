"""Letting pages of any origin read what a storefront shows, and nothing else.

A key is sent in a header by the page's own script, never by the browser on its own,
so any origin may ask: a page elsewhere knows no more than its visitor does.

References:
    [1] WHATWG Fetch, "CORS protocol": Access-Control-Allow-Origin, preflights.
"""

from __future__ import annotations

from flask import Flask, Response, request

SHOWN = ("/v1/window/", "/window/")
"""What addresses begin with that pages of any origin may ask."""
_EXPOSED = "ETag, Link, RateLimit, RateLimit-Policy, Retry-After"
_SENT = "Authorization, Content-Type, Idempotency-Key, If-None-Match"
_KEPT_S = "7200"  # a browser keeps a preflight for no longer


def install(app: Flask) -> None:
    """Send the fields of CORS on these addresses of ``app``, and on no other."""
    app.after_request(_share)


def _share(response: Response) -> Response:
    if request.path.startswith(SHOWN):
        headers = response.headers
        headers.add("Access-Control-Allow-Origin", "*")
        headers.add("Access-Control-Expose-Headers", _EXPOSED)
        if request.method == "OPTIONS":
            headers["Access-Control-Allow-Methods"] = "GET, POST"
            headers["Access-Control-Allow-Headers"] = _SENT
            headers["Access-Control-Max-Age"] = _KEPT_S
    return response
