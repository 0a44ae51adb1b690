"""How the description of a feed may write paths and times, checked in one place.

The description is refused for what the reader could not follow, so both of them
ask here.

References:
    [1] RFC 6901, JSON Pointer: §3 syntax, §4 array indices and "-".
    [2] RFC 9535, JSONPath, followed strictly.
"""

from __future__ import annotations

import re
from functools import lru_cache
from typing import NamedTuple
from xml.etree.ElementTree import Element

from jsonpath import JSONPath, JSONPathEnvironment, JSONPathError
from jsonpointer import JsonPointer, JsonPointerException

from pricing.errors import InvalidInput

MOST_CHARACTERS = 200

_TEXTS = re.compile(r"'(?:[^'\\]|\\.)*+'?|\"(?:[^\"\\]|\\.)*+\"?", re.DOTALL)
_NAMESPACE = re.compile(r"\{[^{}]*\}")
_ATTRIBUTE = re.compile(
    r"(?P<element>.+)/@(?P<name>(?:\{[^{}]*\})?[^/\[\]{}@*]+)", re.DOTALL
)
_DIRECTIVE = re.compile(r"%(.)", re.DOTALL)
_DATE_DIRECTIVES = ({"Y", "y"}, {"m", "b", "B"}, {"d"})
_TIME_DIRECTIVES = set("HIMSfpz")
_OTHER_DIRECTIVES = set("aAj%")


class ElementPath(NamedTuple):
    """An element path in the way of ElementTree, and an attribute of what it finds."""

    element: str
    attribute: str | None


class _Queries(JSONPathEnvironment):
    """RFC 9535 without the functions that take regular expressions.

    Those could be made to run for ever by what a feed answers.
    """

    max_recursion_depth = 40

    def setup_function_extensions(self) -> None:
        super().setup_function_extensions()
        for name in ("match", "search"):
            self.function_extensions.pop(name)


_QUERIES = _Queries(strict=True)


@lru_cache(maxsize=256)
def json_path(text: str) -> JsonPointer | JSONPath:
    """The pointer [1] or, if it begins with ``$``, the query [2] that ``text`` is.

    A query has at most one ``..``, one filter and no list of selectors: it is
    to name one thing, and has no need to cost more than one walk.

    Raises:
        InvalidInput: it is neither.

    >>> json_path("/rates/XAG").parts
    ['rates', 'XAG']
    """
    _check_length(text)
    if text.startswith("$"):
        return _query(text)
    try:
        return JsonPointer(text)
    except JsonPointerException:
        raise InvalidInput(
            f"{text[:40]!r} is not a path; write a JSON pointer such as /rates/XAG "
            "(~1 for / and ~0 for ~ in a name), or a JSONPath such as $.rates.XAG"
        ) from None


def _query(text: str) -> JSONPath:
    bare = _TEXTS.sub("''", text)
    if max(bare.count(".."), bare.count("?"), bare.count("$")) > 1 or "," in bare:
        raise InvalidInput(
            f"{text[:40]!r} asks for too much; use at most one .. and one filter, "
            "and no lists of names"
        )
    try:
        query = _QUERIES.compile(text)
    except (JSONPathError, ValueError, RecursionError):
        query = None
    if not isinstance(query, JSONPath):
        raise InvalidInput(
            f"{text[:40]!r} is not a JSONPath; write one such as $.rates.XAG, "
            "$['rates'][0] or $.rates[?@.metal=='XAG'].price"
        )
    return query


@lru_cache(maxsize=256)
def element_path(text: str) -> ElementPath:
    """A path to an XML element, or with ``/@name`` at its end to an attribute.

    It begins below the root element, is written as ElementTree has it
    (``{*}name`` for any namespace), and has at most one ``//``.

    Raises:
        InvalidInput: it is no such path.

    >>> element_path("silver/ask/@usd")
    ElementPath(element='silver/ask', attribute='usd')
    """
    _check_length(text)
    found = _ATTRIBUTE.fullmatch(text)
    path = ElementPath(found["element"], found["name"]) if found else None
    path = path or ElementPath(text, None)
    if not _can_be_followed(path):
        raise InvalidInput(
            f"{text[:40]!r} is not an element path; write one such as "
            "metals/silver/price or .//{*}Cube[@currency='USD']/@rate, "
            "beginning below the root element"
        )
    return path


def _can_be_followed(path: ElementPath) -> bool:
    bare = _NAMESPACE.sub("", _TEXTS.sub("''", path.element))
    name = _NAMESPACE.sub("", path.attribute or "")
    if not bare or bare.endswith("/") or bare.count("//") > 1:
        return False
    # A prefix means nothing here, as every answer may choose its own.
    if any(sign in bare for sign in ("..", "@*", ":")) or ":" in name:
        return False
    try:
        Element("root").findall(path.element)
    except (SyntaxError, LookupError, TypeError, ValueError):
        return False
    return True


@lru_cache(maxsize=256)
def csv_column(text: str, *, header: bool) -> str | int:
    """The name of a column, or without a header its place counted from 0.

    Raises:
        InvalidInput: it is empty, or no number from 1.

    >>> csv_column("price", header=True), csv_column("2", header=False)
    ('price', 1)
    """
    _check_length(text)
    if header and text.strip():
        return text.strip()
    if not header and re.fullmatch(r"[1-9][0-9]{0,2}", text):
        return int(text) - 1
    raise InvalidInput(
        f"{text[:40]!r} is not a column; "
        + (
            "write the name in the first line"
            if header
            else "write its number, counted from 1, as there is no header"
        )
    )


@lru_cache(maxsize=256)
def time_pattern(text: str) -> bool:
    """Whether the strptime pattern ``text`` brings a time of day with its date.

    Raises:
        InvalidInput: it does not say the whole date once, or holds a part whose
            meaning depends on the machine.

    >>> time_pattern("%d.%m.%Y %H:%M"), time_pattern("%Y%m%d")
    (True, False)
    """
    _check_length(text)
    parts = _DIRECTIVE.findall(text)
    known = set().union(*_DATE_DIRECTIVES, _TIME_DIRECTIVES, _OTHER_DIRECTIVES)
    once = all(parts.count(part) <= 1 for part in set(parts) - {"%"})
    by_month = all(len(group & set(parts)) == 1 for group in _DATE_DIRECTIVES)
    by_day = "j" in parts and len(_DATE_DIRECTIVES[0] & set(parts)) == 1
    stray = "%" in _DIRECTIVE.sub("", text)
    if stray or not (once and set(parts) <= known and (by_month or by_day)):
        raise InvalidInput(
            f"{text[:40]!r} is not a time format; use rfc3339, epoch_s, epoch_ms, "
            "date, or a pattern with year, month and day such as %d.%m.%Y %H:%M"
        )
    if "I" in parts and "p" not in parts:
        raise InvalidInput("a 12-hour clock (%I) needs %p for morning or afternoon")
    return bool({"H", "I"} & set(parts))


def _check_length(text: str) -> None:
    if len(text) > MOST_CHARACTERS:
        raise InvalidInput(
            f"{len(text)} characters are too many; use at most {MOST_CHARACTERS}"
        )
