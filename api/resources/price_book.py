"""The price book: the workshop's settings, every version of them kept."""

from __future__ import annotations

import json
from typing import Any
from urllib.parse import urlencode

from flask import request

from api.endpoint import Call, Examples, Reply, Routes
from api.errors import Refused
from api.ports import NotFound
from api.preconditions import tag
from api.problems import BOOK_REFUSED, NOT_FOUND, PRECONDITION_FAILED
from api.schemas.price_book import (
    BookChangesDocument,
    BookVersionsDocument,
    NoteQuery,
    PriceBookBody,
    VersionPath,
    VersionsQuery,
)
from api.security import BENCH
from pricing.price_book import diff

_BOOK = "/v1/price-book"
_ETAG = {"ETag": "Its version; a change has to name it in If-Match."}
_EXAMPLE = {
    "title": "Two stages to begin with",
    "currency": "EUR",
    "timezone": "Europe/Vienna",
    "labour": {"rate_per_hour": "32.00", "overhead_per_hour": "9.50"},
    "stages": [
        {
            "key": "punch",
            "title": "Centre and punch",
            "minutes": "4",
            "removes": "slug",
            "scrap": {"tried": 60, "failed": 1},
        },
        {
            "key": "fold",
            "title": "Fold, press and bore",
            "minutes": "40",
            "minutes_per": {"wrap_sizes": "1.6"},
            "removes": "bore",
            "scrap": {"rate": "0.04"},
            "redo": {"rate": "0.05", "to": "fold"},
        },
    ],
    "recovery": {"slug": "0.90", "filings": "0.55", "scrap": "0.88"},
    "coin_buying": {"basis": "melt", "premium": "0.12"},
    "channels": [
        {
            "key": "own_shop",
            "tax": {"rate": "0.20", "inclusive": True},
            "fees": [{"label": "card", "rate": "0.019", "fixed": "0.25"}],
            "shipping": {"charged": "6.90", "paid": "5.40"},
        }
    ],
    "policies": [
        {
            "key": "retail",
            "target_margin": "0.35",
            "rounding": {"step": "5.00", "offset": "-0.05"},
        }
    ],
}

routes = Routes(
    "price_book",
    title="Price book",
    about="Everything a price is made of but the coin and the spot. Every version is "
    "kept, and every estimate names the one it used.",
)


@routes.operation(
    "GET",
    _BOOK,
    scope=BENCH,
    summary="Read the price book",
    answers={200: PriceBookBody()},
    problems=(NOT_FOUND,),
    answer_headers=_ETAG,
)
def read_price_book(call: Call) -> Reply:
    """Read the book in force, as it was stored."""
    return _stored(call.services.price_books.stored())


@routes.operation(
    "PUT",
    _BOOK,
    scope=BENCH,
    summary="Replace the price book",
    query=NoteQuery(),
    body=PriceBookBody(),
    answers={200: PriceBookBody(), 201: PriceBookBody()},
    problems=(BOOK_REFUSED,),
    conditional=True,
    answer_headers=_ETAG,
    examples=Examples(query={"note": "Wages of the new year"}, body=_EXAMPLE),
)
def replace_price_book(call: Call) -> Reply:
    """Put a new version in force, whole.

    A book with a fault is refused, nothing of it is used, and every fault is
    listed. To store the first book of all, send 'If-None-Match: *' in place of
    If-Match.
    """
    expected = _expected(call)
    books = call.services.price_books
    made = books.replace(
        call.body(),
        expected=expected,
        note=call.query["note"],
    )
    reply = _stored(books.stored(made.version))
    if expected is not None:
        return reply
    return Reply(reply.value, status=201, etag=reply.etag, headers={"Location": _BOOK})


def _expected(call: Call) -> int | None:
    """The version to be replaced; None where there must be none yet."""
    first = request.headers.get("If-None-Match", "").strip() == "*"
    if first and "If-Match" not in request.headers:
        return None
    try:
        version: int = call.services.price_books.stored().about.version
    except NotFound:
        if "If-Match" in request.headers:
            raise Refused(
                PRECONDITION_FAILED,
                "There is no price book yet; store the first with If-None-Match: *.",
            ) from None
        version = 0
    call.require_match(tag("price_book", version))
    return version


@routes.operation(
    "GET",
    f"{_BOOK}/versions",
    scope=BENCH,
    summary="List the versions",
    query=VersionsQuery(),
    answers={200: BookVersionsDocument()},
    answer_headers={"Link": 'The next page, as rel="next", where there is one.'},
    examples=Examples(query={"limit": "10"}),
)
def list_book_versions(call: Call) -> Reply:
    """List the versions, newest first; follow the Link header for older ones."""
    limit, before = call.query["limit"], call.query["before"]
    found = call.services.price_books.versions()
    wanted = [one for one in found if before is None or one.version < before]
    page = wanted[:limit]
    headers = {}
    if len(wanted) > limit:
        older = urlencode({"before": page[-1].version, "limit": limit})
        headers["Link"] = f'<{_BOOK}/versions?{older}>; rel="next"'
    return Reply({"versions": page}, headers=headers)


@routes.operation(
    "GET",
    f"{_BOOK}/versions/<version>",
    scope=BENCH,
    summary="Read one version",
    path=VersionPath(),
    answers={200: PriceBookBody()},
    answer_headers={"ETag": "Its version."},
    examples=Examples(path={"version": "1"}),
)
def read_book_version(call: Call) -> Reply:
    """Read the book as it was in one version."""
    return _stored(call.services.price_books.stored(call.path["version"]))


@routes.operation(
    "GET",
    f"{_BOOK}/versions/<version>/changes",
    scope=BENCH,
    summary="What one version changed",
    path=VersionPath(),
    answers={200: BookChangesDocument()},
    problems=(BOOK_REFUSED,),
    examples=Examples(
        path={"version": "2"},
        answer={
            "version": 2,
            "since": 1,
            "changes": [
                {
                    "path": "labour.rate_per_hour",
                    "before": "32.00",
                    "after": "33.50",
                },
                {"path": "extras.engraving", "before": None, "after": "minutes 14"},
            ],
        },
    ),
)
def read_book_changes(call: Call) -> Reply:
    """Tell a version from the one before it.

    Entries are followed by their keys, and figures compared by value: 32 is 32.00.
    """
    number, books = call.path["version"], call.services.price_books
    new = books.version(number)
    changes = diff(books.version(number - 1), new) if number > 1 else ()
    since = number - 1 or None
    return Reply({"version": number, "since": since, "changes": changes})


def _stored(stored: Any) -> Reply:
    return Reply(
        json.loads(stored.document), etag=tag("price_book", stored.about.version)
    )
