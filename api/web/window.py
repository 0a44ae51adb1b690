"""The script of the storefront element, for pages of any origin.

References:
    [1] RFC 9239, section 6: ``text/javascript`` is the type of a script.
"""

from __future__ import annotations

from functools import cache
from importlib.resources import files
from typing import cast

from flask import Response, request

from api.endpoint import Routes
from api.security import OPEN

FRESH_S = 3600
"""How long a browser or a cache in between may keep the script [s]."""

routes = Routes("window_script", title="Window script")


@routes.page("/window/ring-price.js", scope=OPEN)
def ring_price_script() -> Response:
    """The element that shows and holds a ring's price."""
    answer = Response(_script(), content_type="text/javascript; charset=utf-8")
    answer.headers["Cross-Origin-Resource-Policy"] = "cross-origin"
    answer.headers["Cache-Control"] = f"public, max-age={FRESH_S}"
    answer.add_etag()
    return cast("Response", answer.make_conditional(request))


@cache
def _script() -> bytes:
    """Read once, so that no request looks anything up on disk."""
    return (files("api.web") / "static" / "ring-price.js").read_bytes()
