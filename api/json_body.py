"""Reading a request body as JSON, strictly.

Everything two JSON programs could read differently, and everything that costs
more to read than it is worth, is refused before it reaches a schema.

References:
    [1] RFC 8259, JSON; RFC 7493, I-JSON: UTF-8, unique names, no surrogates (§2).
"""

from __future__ import annotations

import json
import math
import re
from collections import Counter
from typing import Any, NoReturn

from flask import Request

from api.errors import Refused
from api.problems import MALFORMED_JSON, UNSUPPORTED_MEDIA_TYPE

MOST_BYTES = 64 * 1024
DEEPEST = 32
LONGEST_INTEGER = 19

# The possessive loop and the optional last quote make every attempt succeed at
# the first try, so that no text makes this slower than one pass.
_STRINGS = re.compile(rb'"(?:[^"\\]|\\.?)*+"?', re.DOTALL)
_OUTSIDE_BRACKETS = re.compile(rb"[^\[\]{}]+")
# Tab and line ends are text; the other controls and half characters are not.
_JSON = "application/json"  # what nearly all send, and what needs no further reading
_FORBIDDEN = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\ud800-\udfff]")


class _Unreadable(ValueError):
    """Why a text is refused; becomes the detail of the problem."""


def read_json(request: Request) -> Any:
    """The JSON value in the body of ``request``.

    Raises:
        Refused: 415 for another media type, charset or coding; 400 for a body
            that is not strict JSON.
        RequestEntityTooLarge: more bytes than the application takes.
    """
    if request.environ.get("CONTENT_TYPE") != _JSON or request.content_encoding:
        _check_media_type(request)
    try:
        return load(request.get_data(cache=False))
    except _Unreadable as error:
        raise Refused(MALFORMED_JSON, str(error)) from None


def _check_media_type(request: Request) -> None:
    charset = request.mimetype_params.get("charset", "utf-8").lower()
    if request.mimetype != _JSON or charset != "utf-8":
        raise Refused(
            UNSUPPORTED_MEDIA_TYPE,
            "The body has to be application/json in UTF-8; say so in Content-Type.",
            headers={"Accept": "application/json"},
        )
    if request.headers.get("Content-Encoding", "identity").lower() != "identity":
        raise Refused(
            UNSUPPORTED_MEDIA_TYPE,
            "The body has to come uncompressed; leave Content-Encoding out.",
            headers={"Accept-Encoding": "identity"},
        )


def load(data: bytes) -> Any:
    """The value of a JSON text.

    Raises:
        ValueError: with a sentence that says what is wrong with it.

    >>> load(b'{"size": "10"}')
    {'size': '10'}
    """
    _check_depth(data)
    try:
        text = data.decode("utf-8")
        value = json.loads(
            text,
            object_pairs_hook=_object,
            parse_constant=_no_constant,
            parse_float=_finite,
            parse_int=_integer,
        )
    except UnicodeDecodeError as error:
        raise _Unreadable(f"Byte {error.start} is not UTF-8.") from None
    except json.JSONDecodeError as error:
        raise _Unreadable(
            f"Line {error.lineno}, column {error.colno} is not JSON: "
            f"{error.msg[:1].lower()}{error.msg[1:]}."
        ) from None
    if "\\" in text:  # only an escape can smuggle a forbidden character past here
        _check_texts(value)
    return value


def _check_depth(data: bytes) -> None:
    if data.count(b"[") + data.count(b"{") <= DEEPEST:
        return
    depth = 0
    for bracket in _OUTSIDE_BRACKETS.sub(b"", _STRINGS.sub(b"", data)):
        depth += 1 if bracket in b"[{" else -1
        if depth > DEEPEST:
            raise _Unreadable(f"The body is nested more than {DEEPEST} levels deep.")


def _object(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    members = dict(pairs)
    if len(members) != len(pairs):
        count = Counter(name for name, _ in pairs)
        [(twice, _)] = count.most_common(1)
        raise _Unreadable(f"The member {twice[:60]!a} is there twice in one object.")
    return members


def _no_constant(name: str) -> NoReturn:
    raise _Unreadable(f"{name} is not a number in JSON.")


def _integer(digits: str) -> int:
    if len(digits) > LONGEST_INTEGER:
        raise _Unreadable(
            f"A whole number may have {LONGEST_INTEGER} characters; there is one "
            f"with {len(digits)}."
        )
    return int(digits)


def _finite(text: str) -> float:
    number = float(text)
    if math.isinf(number):
        raise _Unreadable(f"The number {text[:20]} is too large.")
    return number


def _check_texts(value: Any) -> None:
    if isinstance(value, str):
        found = _FORBIDDEN.search(value)
        if found:
            raise _Unreadable(
                "A text holds a control character or half a character "
                f"(\\u{ord(found[0]):04x}); take it out."
            )
    elif isinstance(value, dict):
        for name, member in value.items():
            _check_texts(name)
            _check_texts(member)
    elif isinstance(value, list):
        for item in value:
            _check_texts(item)
