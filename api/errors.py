"""From an exception to a problem document: the one table, and the handlers.

A class that is not in the table is a fault of the program: it is logged with the
request id and answered without its text.

References:
    [1] RFC 9457, Problem Details; members of ``errors`` carry a JSON Pointer as
        URI fragment (RFC 6901 §6), or the name of a parameter or header.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import Any
from urllib.parse import quote

from flask import Flask, Response, render_template, request
from marshmallow import ValidationError
from werkzeug.exceptions import HTTPException

from api import ports, problems
from api.problems import MEDIA_TYPE, ProblemType
from api.request_log import log_failure, request_id
from api.schemas.reading import faults
from pricing import errors as pricing

MOST_ERRORS = 50

_BY_CLASS: Mapping[type[Exception], ProblemType] = {
    pricing.InvalidInput: problems.INVALID_INPUT,
    ports.SizeNotOffered: problems.SIZE_NOT_OFFERED,
    pricing.BookRefused: problems.BOOK_REFUSED,
    pricing.UnknownKey: problems.UNKNOWN_KEY,
    pricing.NotMakeable: problems.NOT_MAKEABLE,
    pricing.NoPossiblePrice: problems.NO_POSSIBLE_PRICE,
    ports.NotFound: problems.NOT_FOUND,
    ports.Conflict: problems.CONFLICT,
    ports.QuoteExpired: problems.QUOTE_EXPIRED,
    ports.CannotHold: problems.CANNOT_HOLD,
    ports.PreconditionFailed: problems.PRECONDITION_FAILED,
    ports.NotAuthenticated: problems.NOT_AUTHENTICATED,
    ports.SpotUnavailable: problems.SPOT_UNAVAILABLE,
    ports.StaleSpot: problems.SPOT_STALE,
    ports.StorageUnavailable: problems.STORAGE_BUSY,
}
_BY_STATUS: Mapping[int, ProblemType] = {
    kind.status: kind
    for kind in (
        problems.NOT_AUTHENTICATED,
        problems.NOT_ALLOWED,
        problems.NOT_FOUND,
        problems.METHOD_NOT_ALLOWED,
        problems.NOT_ACCEPTABLE,
        problems.BODY_TOO_LARGE,
        problems.UNSUPPORTED_MEDIA_TYPE,
    )
}
_EXTRA_MEMBERS = ("reason", "rule", "nearest_size_us", "nearest_hole_mm")
_FRAGMENT = "!$&'()*+,;=:@~"
_CHALLENGE = 'Bearer realm="fineweight"'
_PAGES = {
    "/docs": "problem_page.html",
    "/static": "problem_page.html",
    "/quotes": "sheet_problem.html",
    "/bench": "bench/problem.html",
}

Item = dict[str, str]


class Refused(Exception):
    """A request refused before it reaches a service."""

    def __init__(
        self,
        kind: ProblemType,
        detail: str,
        *,
        errors: tuple[Item, ...] = (),
        headers: Mapping[str, str] | None = None,
        members: Mapping[str, Any] | None = None,
    ) -> None:
        super().__init__(detail)
        self.kind = kind
        self.detail = detail
        self.errors = errors
        self.headers = headers or {}
        self.members = members or {}


def pointer(path: tuple[str | int, ...]) -> str:
    """A JSON Pointer as URI fragment.

    >>> pointer(("stages", 2, "a/b"))
    '#/stages/2/a~1b'
    """
    parts = (str(part).replace("~", "~0").replace("/", "~1") for part in path)
    return "#" + "".join("/" + quote(part, safe=_FRAGMENT) for part in parts)


def body_errors(error: ValidationError) -> tuple[Item, ...]:
    """Every fault of a body, each with a pointer to its member."""
    return tuple(
        {"detail": text, "pointer": pointer(path)} for path, text in faults(error)
    )


def parameter_errors(error: ValidationError) -> tuple[Item, ...]:
    """Every fault of a query, each with the name of its parameter."""
    return tuple(
        {"detail": text, "parameter": str(path[0]) if path else ""}
        for path, text in faults(error)
    )


def invalid(errors: tuple[Item, ...]) -> Refused:
    """The refusal of a body or query with these faults."""
    count = "One value" if len(errors) == 1 else f"{len(errors)} values"
    return Refused(problems.INVALID_INPUT, f"{count} cannot be used.", errors=errors)


def _pricing_items(error: pricing.PricingError) -> tuple[Item, ...]:
    if request.method in {"POST", "PUT", "PATCH"}:
        return tuple(
            {"detail": fault.message, "pointer": pointer(fault.path)}
            for fault in error.faults
        )
    # What has no body was asked by query; its parameters are the last names.
    return tuple(
        {"detail": fault.message, "parameter": str(fault.path[-1])}
        for fault in error.faults
        if fault.path
    )


def problem(
    kind: ProblemType,
    detail: str,
    *,
    status: int | None = None,
    members: Mapping[str, Any] | None = None,
) -> Response:
    """A problem document, or among pages a page, as the answer to this request."""
    found = (page for part, page in _PAGES.items() if request.path.startswith(part))
    template = next(found, None)
    if template:
        page = render_template(
            template, kind=kind, status=status or kind.status, detail=detail
        )
        return Response(page, status or kind.status, mimetype="text/html")
    document: dict[str, Any] = {
        "type": kind.uri,
        "title": kind.title,
        "status": status or kind.status,
        "detail": detail,
        "instance": f"urn:fineweight:request:{request_id()}",
    }
    text = json.dumps(document | dict(members or {}), ensure_ascii=False)
    answer = Response(text, status=document["status"], content_type=MEDIA_TYPE)
    if answer.status_code == problems.NOT_AUTHENTICATED.status:
        answer.headers["WWW-Authenticate"] = _CHALLENGE
    return answer


def _listed(errors: tuple[Item, ...]) -> dict[str, Any]:
    if len(errors) <= MOST_ERRORS:
        return {"errors": list(errors)} if errors else {}
    return {
        "errors": list(errors[:MOST_ERRORS]),
        "errors_left_out": len(errors) - MOST_ERRORS,
    }


def install(app: Flask) -> None:
    """Answer every exception raised in ``app`` with a problem or an error page."""
    app.register_error_handler(HTTPException, _on_http)
    app.register_error_handler(Refused, _on_refused)
    app.register_error_handler(Exception, _on_exception)


def kind_of(error: Exception) -> ProblemType | None:
    """Its kind of problem; None for a fault of the program."""
    if isinstance(error, Refused):
        return error.kind
    classes = type(error).__mro__
    return next((_BY_CLASS[base] for base in classes if base in _BY_CLASS), None)


def answer_to(error: Exception) -> Response:
    """What ``error`` is answered with."""
    return _on_refused(error) if isinstance(error, Refused) else _on_exception(error)


def _on_refused(error: Refused) -> Response:
    members = _listed(error.errors) | dict(error.members)
    answer = problem(error.kind, error.detail, members=members)
    answer.headers.update(error.headers)
    return answer


def _on_http(error: HTTPException) -> Response:
    status = error.code or problems.INTERNAL_ERROR.status
    known = _BY_STATUS.get(status)
    fallback = problems.BAD_REQUEST if status < 500 else problems.INTERNAL_ERROR  # noqa: PLR2004 - where server errors begin
    kind = known or fallback
    answer = problem(kind, kind.meaning, status=status)
    kept = [pair for pair in error.get_headers() if pair[0] != "Content-Type"]
    answer.headers.extend(kept)
    return answer


def _on_exception(error: Exception) -> Response:
    kind = kind_of(error)
    if kind is None:
        log_failure(error)
        return problem(problems.INTERNAL_ERROR, problems.INTERNAL_ERROR.meaning)
    members: dict[str, Any] = {}
    if isinstance(error, pricing.PricingError):
        members |= _listed(_pricing_items(error))
        extra = {name: getattr(error, name, None) for name in _EXTRA_MEMBERS}
        members |= {name: str(value) for name, value in extra.items() if value}
    answer = problem(kind, str(error), members=members)
    if isinstance(error, ports.StorageUnavailable):
        answer.headers["Retry-After"] = str(error.retry_after_s)
    return answer
