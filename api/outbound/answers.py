"""What an answer must be before anything in it is read: status, size, encoding."""

from __future__ import annotations

import re
import zlib
from datetime import UTC, datetime
from email.utils import parsedate_to_datetime

from urllib3 import HTTPResponse

from api.outbound.deadline import Deadline, Limits
from api.outbound.trouble import TryAgain
from api.ports.feeds import FeedFailed

LONGEST_RETRY_AFTER_S = 24 * 3600
PIECE = 2**14
_ANY_ZLIB = 32 + zlib.MAX_WBITS  # tells gzip and zlib apart by itself

OK, NO_CONTENT, NOT_MODIFIED = 200, 204, 304
REDIRECTS = range(300, 400)
PASSING = {429, 502, 503, 504}
TOO_MANY = 429
_WORDS = {
    NO_CONTENT: ("no_content", "The feed answered without any content (204)."),
    NOT_MODIFIED: ("not_modified", "The feed answered 'not modified' unasked (304)."),
    401: ("not_allowed", "The feed wants to know who asks (401). Check its secrets."),
    403: ("not_allowed", "The feed does not let this key in (403). Check its secrets."),
    404: ("not_found", "There is nothing at the feed's URL (404). Check the URL."),
    410: ("not_found", "The feed has gone for good (410). Another one is needed."),
    429: ("too_many_requests", "The feed says it was asked too often (429)."),
}
_ELSEWHERE = (
    "The feed answers that it is somewhere else now ({}). Redirects are not followed: "
    "find the new URL and enter that."
)


def check_status(answer: HTTPResponse, *, conditional: bool, now: datetime) -> None:
    """Let a 200 pass, and a 304 that was asked for.

    Args:
        answer: of which only status and headers were read.
        conditional: whether the request named what it has.
        now: for a Retry-After that is a date.

    Raises:
        TryAgain: the status says that it may pass.
        FeedFailed: any other status; redirects are not followed.
    """
    status = answer.status
    if status == OK or (status == NOT_MODIFIED and conditional):
        return
    code, text = _WORDS.get(status, ("http_status", f"The feed answered {status}."))
    if status in REDIRECTS and status not in _WORDS:
        code, text = "redirect", _ELSEWHERE.format(status)
    if status not in PASSING:
        raise FeedFailed(code, text)
    wait = retry_after_s(answer.headers.get("Retry-After"), now=now)
    if wait:
        text += f" It asks to wait {wait:.0f} seconds."
    raise TryAgain(code, text, retry_after_s=wait)


def retry_after_s(text: str | None, *, now: datetime) -> float | None:
    """The pause that a Retry-After field asks for [s], at most a day.

    None for a field that is missing or rubbish; 0 for a date that is over.
    RFC 9110 section 10.2.3: a number of seconds or an HTTP-date.

    >>> retry_after_s("120", now=datetime(2026, 1, 2, tzinfo=UTC))
    120.0
    """
    text = (text or "").strip()
    if re.fullmatch("[0-9]{1,20}", text, re.ASCII):
        seconds = float(text)
    else:
        try:
            when = parsedate_to_datetime(text)
        except (ValueError, TypeError, OverflowError):
            return None
        when = when if when.tzinfo else when.replace(tzinfo=UTC)
        seconds = (when - now).total_seconds()
    return min(max(seconds, 0.0), LONGEST_RETRY_AFTER_S)


def body_of(answer: HTTPResponse, *, limits: Limits, deadline: Deadline) -> bytes:
    """The whole body, decompressed, and never more of it than is allowed.

    Raises:
        FeedFailed: too large, compressed in another way than asked, broken off,
            or not there in time.
    """
    encoding = answer.headers.get("Content-Encoding", "").strip().lower()
    if encoding not in {"", "identity", "gzip", "x-gzip", "deflate"}:
        raise FeedFailed(
            "bad_encoding",
            "The feed compressed its answer in a way that was not asked for.",
        )
    raw = _raw_body(answer, limits.body_bytes, deadline)
    if encoding in {"", "identity"}:
        return raw
    return _decompressed(raw, limits.body_bytes)


def _raw_body(answer: HTTPResponse, most: int, deadline: Deadline) -> bytes:
    told = answer.headers.get("Content-Length", "")
    if re.fullmatch("[0-9]{1,18}", told, re.ASCII):
        _keep_under(most, int(told))  # refused before anything is read
    body = bytearray()
    while piece := answer.read1(PIECE, decode_content=False):
        body += piece
        _keep_under(most, len(body))
    if deadline.left_s <= 0:  # the end may be ours and not the feed's
        raise deadline.missed()
    return bytes(body)


def _keep_under(most: int, size: int) -> None:
    if size > most:
        raise FeedFailed(
            "too_large",
            f"The feed's answer is larger than {most // 1024} kB, which no price "
            "needs. Check the URL.",
        )


def _decompressed(raw: bytes, most: int) -> bytes:
    unpacker = zlib.decompressobj(_ANY_ZLIB)
    try:
        body = unpacker.decompress(raw, most + 1)
    except zlib.error:
        body = b""
    _keep_under(most, len(body))
    if not unpacker.eof or unpacker.unused_data:
        raise FeedFailed(
            "bad_encoding",
            "The feed's compressed answer is damaged or breaks off; try again later.",
        )
    return body
