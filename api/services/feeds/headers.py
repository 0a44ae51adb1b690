"""The headers a feed is asked with: plain ones by value, secret ones by name alone.

References:
    [1] RFC 9110 §5.1 and §5.6.2: a field name is a token; §5.5 values; §7.6.1
        fields of the connection are not a sender's to choose.
"""

from __future__ import annotations

import re
from collections.abc import Mapping

from pricing.price_book.fields import Fields
from pricing.price_book.findings import shown

MOST_HEADERS = 20
_NAME = re.compile(r"[A-Za-z0-9!#$%&'*+.^_`|~-]{1,60}")
_VALUE = re.compile(r"[\x21-\x7e](?:[\x20-\x7e]{0,198}[\x21-\x7e])?")
_OURS = {
    "accept-encoding", "connection", "content-length", "expect", "host", "keep-alive",
    "range", "te", "trailer", "transfer-encoding", "upgrade", "via",
}  # fmt: skip
_OURS_BEGIN = ("if-", "proxy-", "sec-")
_SECRET = re.compile(r"auth|cookie|key|pass|secret|session|signature|token")
_PLAIN = {"accept", "accept-language", "user-agent"}


def read_headers(table: Fields) -> tuple[tuple[str, str], ...]:
    """The headers sent as they stand here, by name."""
    value = table.peek("headers")
    if value is None:
        return ()
    if not isinstance(value, Mapping):
        table.fault(f"{shown(value)} is not a table of headers", "headers")
        return ()
    if len(value) > MOST_HEADERS:
        table.fault(f"{len(value)} headers are too many", "headers")
        return ()
    return tuple(
        (name, text)
        for name, text in value.items()
        if _check_header(table, name, text) and isinstance(text, str)
    )


def read_secret_headers(table: Fields) -> tuple[str, ...]:
    """The names of the headers whose values are kept apart."""
    value = table.peek("secret_headers")
    if value is None:
        return ()
    if not isinstance(value, list | tuple) or len(value) > MOST_HEADERS:
        table.fault(
            f"{shown(value)} is not a list of at most {MOST_HEADERS} names",
            "secret_headers",
        )
        return ()
    return tuple(
        name
        for i, name in enumerate(value)
        if _check_name(table, name, "secret_headers", i)
    )


def check_headers(
    table: Fields, plain: tuple[str, ...], secret: tuple[str, ...]
) -> None:
    """Note every name that is there twice; letter case makes no difference [1]."""
    seen: set[str] = set()
    for name in plain:
        _check_once(table, name, seen, "headers", name)
    for i, name in enumerate(secret):
        _check_once(table, name, seen, "secret_headers", i)


def _check_once(table: Fields, name: str, seen: set[str], *where: str | int) -> None:
    if name.lower() in seen:
        table.fault(f"{name} is here already; name each header once", *where)
    seen.add(name.lower())


def _check_header(table: Fields, name: object, text: object) -> bool:
    if not _check_name(table, name, "headers", str(name)[:60]):
        return False
    name = str(name)
    if name.lower() not in _PLAIN and _SECRET.search(name.lower()):
        said = "this looks like a secret; list its name in secret_headers"
        table.fault(f"{said} and give its value apart", "headers", name)
    elif not (isinstance(text, str) and _VALUE.fullmatch(text)):
        said = "a header's value is 1 to 200 printable ASCII characters"
        table.fault(f"{said}, without blanks at its ends", "headers", name)
    else:
        return True
    return False


def _check_name(table: Fields, name: object, *where: str | int) -> bool:
    if not (isinstance(name, str) and _NAME.fullmatch(name)):
        table.fault(f"{shown(name)} is not the name of a header", *where)
        return False
    if name.lower() in _OURS or name.lower().startswith(_OURS_BEGIN):
        table.fault(f"{name} is set by the program itself; leave it out", *where)
        return False
    return True
