"""What the bench teaches the price book: proposed standards, and accepting them."""

from __future__ import annotations

from api.endpoint import Call, Examples, Reply, Routes
from api.preconditions import tag
from api.problems import BOOK_REFUSED, NOT_FOUND
from api.resources.margin_checks import ADDRESS, PATH
from api.schemas.margin_check_documents import AcceptedDocument, ProposalListDocument
from api.schemas.margin_checks import AcceptProposalsBody, WeekPath, WindowQuery
from api.security import BENCH
from api.services.margin_checks.document import accepted_document, proposed_document

_ETAG = {"ETag": "The price book's version; to accept, name it in If-Match."}
routes = Routes(
    "margin_check_proposals",
    title="Learning from the bench",
    about="Times, chances and scale readings of the bench as new standards, drawn "
    "towards those of the price book where data are few. Nothing changes until they "
    "are accepted, and then as a new version of the price book.",
)


@routes.operation(
    "GET",
    f"{ADDRESS}/<week>/proposals",
    scope=BENCH,
    summary="Read what a week proposes",
    path=WeekPath(),
    query=WindowQuery(),
    answers={200: ProposalListDocument()},
    problems=(NOT_FOUND, BOOK_REFUSED),
    answer_headers=_ETAG,
    links={
        "accept_proposals": {
            "week": "$response.body#/week",
            "header.If-Match": "$response.header.ETag",
        }
    },
    examples=Examples(path=PATH),
)
def read_proposals(call: Call) -> Reply:
    """Tell what the weeks up to this one propose, and what it would do to prices.

    Prices are shown for the rings made most often, at the spot in force.
    """
    found = call.services.bench.margin_checks.proposals(call.path["week"], **call.query)
    etag = tag("price_book", found.book_version)
    return Reply(proposed_document(found), etag=etag)


@routes.operation(
    "POST",
    f"{ADDRESS}/<week>/proposals/accept",
    scope=BENCH,
    summary="Accept proposals",
    path=WeekPath(),
    body=AcceptProposalsBody(),
    answers={201: AcceptedDocument()},
    problems=(NOT_FOUND, BOOK_REFUSED),
    conditional=True,
    idempotency="required",
    answer_headers=_ETAG,
    examples=Examples(path=PATH, body={"paths": ["stages.fold.minutes"]}),
)
def accept_proposals(call: Call) -> Reply:
    """Put proposed standards into a new version of the price book.

    Jobs that were planned before say nothing more about them from then on, since what
    they taught is in the book.
    """
    version = call.services.price_books.stored().about.version
    named = call.require_match(tag("price_book", version))
    body = call.body()
    accepted = call.services.bench.margin_checks.accept(
        call.path["week"],
        body["paths"],
        expected=version if named else None,
        window_weeks=body["window_weeks"],
    )
    etag = tag("price_book", accepted.book_version)
    return Reply(accepted_document(accepted), etag=etag)
