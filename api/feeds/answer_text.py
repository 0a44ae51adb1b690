"""The text of an answer: its characters, and whether it is a page for people.

References:
    [1] RFC 8259 §8.1: JSON is UTF-8. RFC 7303 §3: a byte order mark goes before
        the charset of the header, which goes before the XML declaration.
"""

from __future__ import annotations

import codecs
import re
from email.message import Message

from api.ports.feeds import FeedFailed

MOST_BYTES = 1024 * 1024
MOST_VALUES = 20_000
"""Lists, objects, elements and the like in one answer.

A value of two bytes takes a hundred and more once it is read. This many stay under
ten megabytes whatever they are, and leave room for a price on every market day of
some ten years in three currencies.
"""

# Only what can be a text: Python has codecs by which bytes grow.
_CHARSETS = {
    "utf-8": "utf-8",
    "utf8": "utf-8",
    "us-ascii": "ascii",
    "ascii": "ascii",
    "iso-8859-1": "latin-1",
    "latin1": "latin-1",
    "iso-8859-15": "iso-8859-15",
    "windows-1252": "cp1252",
    "cp1252": "cp1252",
    "utf-16": "utf-16",
    "utf-16le": "utf-16-le",
    "utf-16be": "utf-16-be",
}
_MARKS = (
    (codecs.BOM_UTF8, "utf-8"),
    (codecs.BOM_UTF16_LE, "utf-16-le"),
    (codecs.BOM_UTF16_BE, "utf-16-be"),
)
_DECLARED = re.compile(
    rb"""<\?xml[^>]{0,200}?\sencoding\s*=\s*["']([A-Za-z0-9._-]{1,40})["']"""
)
_PAGE = re.compile(r"<(?:!doctype\s+html|html|head|body)[\s>]", re.IGNORECASE)
_HEAD = 2000


def text_of(body: bytes, content_type: str) -> str:
    """The characters of an answer, without a byte order mark.

    Args:
        body: as it came, decompressed.
        content_type: the header's value, for its charset; may be empty.

    Raises:
        FeedFailed: nothing in it, too much, not the encoding it claims, or a
            web page.
    """
    if len(body) > MOST_BYTES:
        raise FeedFailed(
            "too_large",
            f"The answer has {len(body)} bytes; at most {MOST_BYTES} are read.",
        )
    text = _decoded(body, content_type)
    if not text.strip():
        raise FeedFailed("empty", "The answer is empty.")
    if "\0" in text:
        raise _not_text("a text")
    if text.lstrip().startswith("<") and _PAGE.search(text, 0, _HEAD):
        raise FeedFailed(
            "looks_like_a_page",
            "The answer is a web page for people, not data: a notice or a login, "
            "or the URL is not that of the data.",
        )
    return text


def refuse_crowded(text: str, signs: str) -> None:
    """Let a text pass that holds no more values than any answer needs.

    Signs within quotes count as well, so a text may be refused that would do.

    Args:
        text: not yet read.
        signs: each begins a value, or stands before the next.

    Raises:
        FeedFailed: too many of them.
    """
    count = sum(text.count(sign) for sign in signs)
    if count > MOST_VALUES:
        raise too_many_values(count)


def too_many_values(count: int) -> FeedFailed:
    """The refusal of an answer with ``count`` values [count], or more."""
    return FeedFailed(
        "too_many_values",
        f"The answer has {count} values or more; at most {MOST_VALUES} are read. "
        "Ask the feed for the latest price, or for fewer days.",
    )


def _decoded(body: bytes, content_type: str) -> str:
    for mark, codec in _MARKS:
        if body.startswith(mark):
            return _strictly(body.removeprefix(mark), codec)
    declared = _DECLARED.match(body)
    name = _charset(content_type) or (declared[1].decode() if declared else "utf-8")
    codec_of_it = _CHARSETS.get(name.lower())
    if codec_of_it is None:
        raise FeedFailed(
            "unknown_charset",
            "The answer says it is in an encoding that is not read here; "
            "UTF-8, UTF-16, ISO 8859-1 and Windows-1252 are.",
        )
    return _strictly(body, codec_of_it)


def _charset(content_type: str) -> str:
    header = Message()
    header["Content-Type"] = re.sub(r"[^\x20-\x7e]", "", content_type)[:200]
    value = header.get_param("charset")
    return value.strip().strip("'") if isinstance(value, str) else ""


def _strictly(body: bytes, codec: str) -> str:
    try:
        return body.decode(codec)
    except UnicodeDecodeError:
        raise _not_text(codec.upper()) from None


def _not_text(claimed: str) -> FeedFailed:
    return FeedFailed(
        "wrong_charset",
        f"The answer is not {claimed}, though that is what it claims to be.",
    )
