"""One identity and one log line for each request.

A line is a JSON object, so that no name or path can break it in two or colour
a terminal. It holds no query, no header, no key and no figure.

References:
    [1] W3C Trace Context, traceparent: version-trace-parent-flags in lower-case
        hex, all-zero ids invalid; a malformed one starts a new trace.
"""

from __future__ import annotations

import json
import logging
import random
import re
import time
import traceback
from collections.abc import Mapping

from flask import Flask, Response, g, request

UNLISTED = "/quotes/"
"""Below this an address is as good as a key: no log or search engine keeps it."""

MOST = 200
"""Longest path that is logged [characters]."""
# Wherever it stands: under a prefix that a proxy forgot, twice escaped, doubled. The
# quotes of the API are named by ids, which open nothing without a key.
_SHEET = re.compile(r"(?<!^/v1)((?:/|%2f)quotes(?:/|%2f)).*", re.IGNORECASE | re.DOTALL)

_LOG = logging.getLogger("api.requests")
_TRACEPARENT = re.compile(
    r"(?:00-(?P<first>[0-9a-f]{32})-[0-9a-f]{16}-[0-9a-f]{2}"
    r"|(?!00|ff)[0-9a-f]{2}-(?P<later>[0-9a-f]{32})-[0-9a-f]{16}-[0-9a-f]{2}(?:-.*)?)",
    re.ASCII,
)


def trace_id(traceparent: str) -> str | None:
    """The trace id of a traceparent header, None if it is not a valid one.

    >>> trace_id("00-4bf92f3577b34da6a3ce929d0e0e4736-00f067aa0ba902b7-01")
    '4bf92f3577b34da6a3ce929d0e0e4736'
    >>> trace_id("00-00000000000000000000000000000000-00f067aa0ba902b7-01")
    """
    found = _TRACEPARENT.fullmatch(traceparent)
    if found is None:
        return None
    trace = found["first"] or found["later"]
    parent = traceparent[36:52]
    return trace if trace.strip("0") and parent.strip("0") else None


def request_id() -> str:
    """The id of the request being answered: its trace id, or a new one."""
    known: str | None = g.get("request_id")
    if known is None:
        given = trace_id(request.headers.get("traceparent", ""))
        # An id and no secret, so it need not wait for the system's randomness.
        known = g.request_id = given or f"{random.getrandbits(128):032x}"
    return known


def log_failure(error: Exception) -> None:
    """Log an unexpected exception with its trace, on one line."""
    trace = "".join(traceback.format_exception(error))
    line = {"event": "failure", "request": request_id(), "trace": trace}
    _LOG.error(_written(line))


def _written(line: Mapping[str, object]) -> str:
    # All but ASCII and its controls is escaped, save for the last of those.
    return json.dumps(line).replace("\x7f", "\\u007f")


def install(app: Flask) -> None:
    """Give every request of ``app`` an id and a log line."""
    app.before_request(_begin)
    app.after_request(_finish)


def _begin() -> None:
    g.began = time.perf_counter()


def _told(path: str) -> str:
    """A path as the log may hold it: without what serves as a key."""
    return _SHEET.sub(r"\1…", path)[:MOST]


def _finish(response: Response) -> Response:
    response.headers.add("X-Request-Id", request_id())
    if _LOG.isEnabledFor(logging.INFO):
        line = {
            "event": "request",
            "method": request.method,
            "path": _told(request.path),
            "status": response.status_code,
            "milliseconds": int((time.perf_counter() - g.began) * 1000),
            "request": request_id(),
            "key": g.get("key_id"),
        }
        _LOG.info(_written(line))
    return response
