"""Reading what stands in a request's address, and in its Accept header."""

from __future__ import annotations

from collections.abc import Mapping
from functools import lru_cache
from types import MappingProxyType
from typing import Any

from flask import request
from marshmallow import ValidationError
from werkzeug.datastructures import MIMEAccept
from werkzeug.exceptions import NotFound
from werkzeug.http import parse_accept_header

from api.cursors import lost
from api.errors import Refused, invalid, parameter_errors
from api.problems import NOT_ACCEPTABLE, REPEATED_PARAMETER
from api.schemas.document import Document
from api.text_body import TextFormat

_JSON = "application/json"
_MOST_KEPT = 1024
_LONGEST_KEPT = 200  # characters
_kept: dict[tuple[Document, bytes], Mapping[str, Any]] = {}


def check_accept(form: TextFormat | None = None) -> None:
    """Pass only if the answer's format, JSON or another, is wanted. Raises Refused."""
    media = _JSON if form is None else form.media
    accept = request.headers.get("Accept")
    if accept and not _quality(accept, media):
        raise Refused(NOT_ACCEPTABLE, f"The answer is {media}.")


@lru_cache(maxsize=128)  # one program sends the same with every request
def _quality(accept: str, media: str) -> float:
    return parse_accept_header(accept, MIMEAccept).quality(media)


def read_path(schema: Document | None, values: dict[str, Any]) -> Mapping[str, Any]:
    """The values in the path, checked. Raises NotFound."""
    if schema is None:
        return values
    try:
        loaded: Mapping[str, Any] = schema.load(values)
    except ValidationError:
        raise NotFound from None  # a name that cannot exist names nothing
    return loaded


def read_query(schema: Document | None) -> Mapping[str, Any]:
    """The parameters of the query, checked. Raises Refused.

    What they are follows from the query alone, so those that come again are kept.
    """
    asked = request.query_string
    if schema is None:
        return _read_query(_NO_QUERY) if asked else _NOTHING
    known = _kept.get((schema, asked))
    if known is None:
        known = MappingProxyType(_read_query(schema))
        if len(_kept) >= _MOST_KEPT:
            _kept.clear()
        if len(asked) <= _LONGEST_KEPT:
            _kept[schema, asked] = known
    return known


def _read_query(taken: Document) -> dict[str, Any]:
    given = request.args
    repeated = [name for name, values in given.lists() if len(values) > 1]
    if repeated:
        raise Refused(
            REPEATED_PARAMETER,
            REPEATED_PARAMETER.meaning,
            errors=tuple(
                {"detail": "this is given more than once", "parameter": name}
                for name in repeated
            ),
        )
    try:
        loaded: dict[str, Any] = taken.load(given.to_dict())
    except ValidationError as error:
        found = parameter_errors(error)
        wrong = {each["parameter"] for each in found}
        # One that no list can have made is as wrong as one of another list.
        if wrong == {"cursor"} and "cursor" in taken.fields:
            raise lost() from None
        raise invalid(found) from None
    return loaded


class _NoQuery(Document):
    """Takes no parameter."""


_NO_QUERY = _NoQuery()
_NOTHING: Mapping[str, Any] = MappingProxyType({})
