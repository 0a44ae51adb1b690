"""Answers in JSON, read strictly and exactly.

References:
    [1] RFC 8259, JSON; RFC 7493 (I-JSON) §2.3: names in an object are unique.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from decimal import Decimal
from functools import partial
from typing import Any, NoReturn

from api.feeds.answer_text import refuse_crowded
from api.feeds.paths import many_values, one_value
from api.feeds.rows import Lookup
from api.ports.feeds import Feed, FeedFailed

DEEPEST = 32
LONGEST_NUMBER = 100

# The last quote is optional and the loop gives nothing back, so that no text
# is gone over twice.
_TEXT_OR_BRACKET = re.compile(r'"(?:[^"\\]|\\.?)*+"?|[\[{]|[\]}]', re.DOTALL)


def json_rows(feed: Feed, text: str) -> Iterator[Lookup]:
    """The rows of an answer, or the whole answer where the feed has no rows.

    Raises:
        FeedFailed: it is not strict JSON, or its rows are not there.
    """
    document = parsed(text)
    rows = [document] if feed.rows is None else many_values(document, feed.rows)
    return (partial(one_value, row) for row in rows)


def parsed(text: str) -> Any:
    """The value of a JSON text, its numbers as ints and Decimals.

    Raises:
        FeedFailed: too deep, too many values, not JSON, or JSON that two programs
            could read differently.

    >>> parsed('{"price": 27.50}')
    {'price': Decimal('27.50')}
    """
    _check_depth(text)
    refuse_crowded(text, "[{,")
    try:
        return json.loads(
            text,
            object_pairs_hook=_object,
            parse_constant=_no_constant,
            parse_float=_decimal,
            parse_int=_whole,
        )
    except json.JSONDecodeError as error:
        if text.lstrip().startswith("<"):
            raise FeedFailed("not_json", "The answer is XML, not JSON.") from None
        what = "The answer ends too early" if _cut_off(error) else "It is not JSON"
        raise FeedFailed(
            "not_json", f"{what}: line {error.lineno}, column {error.colno}."
        ) from None


def _check_depth(text: str) -> None:
    depth = 0
    for found in _TEXT_OR_BRACKET.finditer(text):
        sign = found[0]
        if sign in "[{":
            depth += 1
        elif sign in "]}":
            depth -= 1
        if depth > DEEPEST:
            raise FeedFailed(
                "too_deep", f"The answer is nested more than {DEEPEST} levels deep."
            )


def _cut_off(error: json.JSONDecodeError) -> bool:
    rest = error.doc[error.pos :]
    return not rest.strip() or error.msg.startswith("Unterminated string")


def _object(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    members = dict(pairs)
    if len(members) != len(pairs):
        raise FeedFailed(
            "duplicate_name",
            "The answer has the same name twice in one object, so that it is not "
            "certain which one counts.",
        )
    return members


def _no_constant(name: str) -> NoReturn:
    raise FeedFailed("not_json", f"{name} is not a number in JSON.")


def _decimal(digits: str) -> Decimal:
    _check_number(digits)
    try:
        return Decimal(digits)
    except ArithmeticError:
        raise _too_long() from None


def _whole(digits: str) -> int:
    _check_number(digits)
    return int(digits)


def _check_number(digits: str) -> None:
    if len(digits) > LONGEST_NUMBER:
        raise _too_long()


def _too_long() -> FeedFailed:
    return FeedFailed(
        "number_out_of_range", "The answer holds a number too long to be any figure."
    )
