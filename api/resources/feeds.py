"""Feeds: where prices are fetched from, as the workshop set them up."""

from __future__ import annotations

from flask import request

from api.endpoint import Call, Examples, Reply, Routes
from api.errors import Refused
from api.ports import NotFound, StoredFeed
from api.preconditions import tag
from api.problems import PRECONDITION_FAILED
from api.schemas.feeds import (
    FeedBody,
    FeedDocument,
    FeedListDocument,
    FeedPath,
    FetchesQuery,
    FetchLogDocument,
    SecretsBody,
)
from api.security import BENCH

_FEEDS = "/v1/feeds"
_ETAG = {"ETag": "Its version; a change has to name it in If-Match."}
_PATH = {"key": "assay_office"}
_EXAMPLE = {
    "title": "An assay office that publishes its own price",
    "url": "https://prices.example.com/silver.json",
    "format": "json",
    "currency": "EUR",
    "price": "/silver/per_kilogram",
    "unit": "kilogram",
    "time": {"path": "/at"},
    "secret_headers": ["X-Api-Key"],
    "licence_note": "For pricing our own goods; not to be shown to others.",
}

routes = Routes(
    "feeds",
    title="Feeds",
    about="Where prices are fetched from. None comes with the program: set up one you "
    "are entitled to use, and note what its licence allows.",
)


@routes.operation(
    "GET",
    _FEEDS,
    scope=BENCH,
    summary="List the feeds",
    answers={200: FeedListDocument()},
)
def list_feeds(call: Call) -> Reply:
    """List all feeds by key."""
    return Reply({"feeds": call.services.feeds.list()})


@routes.operation(
    "GET",
    f"{_FEEDS}/<key>",
    scope=BENCH,
    summary="Read a feed",
    path=FeedPath(),
    answers={200: FeedDocument()},
    answer_headers=_ETAG,
    examples=Examples(path=_PATH),
)
def read_feed(call: Call) -> Reply:
    """Read how a feed is set up, and which of its secrets are set."""
    found = call.services.feeds.get(call.path["key"])
    return Reply(found, etag=_tag(found))


@routes.operation(
    "PUT",
    f"{_FEEDS}/<key>",
    scope=BENCH,
    summary="Set up or change a feed",
    path=FeedPath(),
    body=FeedBody(),
    answers={200: FeedDocument(), 201: FeedDocument()},
    conditional=True,
    answer_headers=_ETAG,
    examples=Examples(path=_PATH, body=_EXAMPLE),
)
def set_feed_up(call: Call) -> Reply:
    """Set up a feed, or change it, whole.

    A description with a fault is refused, and every fault is listed. To set up a
    new one, send 'If-None-Match: *' in place of If-Match. Secrets stay only while
    the feed still names them and still asks the same server.
    """
    key = call.path["key"]
    expected = _expected(call, key)
    stored = call.services.feeds.put(key, call.body(), expected=expected)
    if expected is not None:
        return Reply(stored, etag=_tag(stored))
    place = {"Location": f"{_FEEDS}/{key}"}
    return Reply(stored, status=201, etag=_tag(stored), headers=place)


def _expected(call: Call, key: str) -> int | None:
    """The revision to be changed; None where there must be none yet."""
    first = request.headers.get("If-None-Match", "").strip() == "*"
    if first and "If-Match" not in request.headers:
        return None
    revision = 0
    try:
        revision = call.services.feeds.get(key).revision
    except NotFound:
        if "If-Match" in request.headers:
            raise Refused(
                PRECONDITION_FAILED,
                "There is no such feed yet; set it up with If-None-Match: *.",
            ) from None
    call.require_match(tag("feed", revision))
    return revision


@routes.operation(
    "DELETE",
    f"{_FEEDS}/<key>",
    scope=BENCH,
    summary="Remove a feed",
    path=FeedPath(),
    answers={204: None},
    conditional=True,
    examples=Examples(path={"key": "old_feed"}),
)
def remove_feed(call: Call) -> Reply:
    """Forget a feed and its secrets; the prices it brought stay."""
    old = call.services.feeds.get(call.path["key"])
    call.require_match(_tag(old))
    call.services.feeds.remove(call.path["key"], expected=old.revision)
    return Reply()


@routes.operation(
    "PUT",
    f"{_FEEDS}/<key>/secrets",
    scope=BENCH,
    summary="Set a feed's secret headers",
    path=FeedPath(),
    body=SecretsBody(),
    answers={200: FeedDocument()},
    examples=Examples(path=_PATH, body={"X-Api-Key": "what the feed's owner gave you"}),
)
def set_feed_secrets(call: Call) -> Reply:
    """Replace the values of all secret headers that the feed names.

    They are sent to the feed and never shown again, not here, not in a log.
    """
    return Reply(call.services.feeds.set_secrets(call.path["key"], call.body()))


@routes.operation(
    "GET",
    f"{_FEEDS}/<key>/fetches",
    scope=BENCH,
    summary="What came of asking a feed",
    path=FeedPath(),
    query=FetchesQuery(),
    answers={200: FetchLogDocument()},
    examples=Examples(path=_PATH, query={"limit": "5"}),
)
def list_fetches(call: Call) -> Reply:
    """Show the last times a feed was asked and why its price counts, or does not."""
    key = call.path["key"]
    found = call.services.feeds.fetches(key, limit=call.query["limit"])
    return Reply({"feed": key, "fetches": found})


def _tag(feed: StoredFeed) -> str:
    return tag("feed", feed.revision)
