"""Jobs: the work done for quotes and listings, as it was planned and as it went."""

from __future__ import annotations

from typing import Any

from flask import request

from api.cursors import LINKS, SECRET, Listing
from api.endpoint import Call, Examples, Reply, Routes
from api.ports.jobs import Job, JobFilter, LoggedCoins
from api.preconditions import tag
from api.problems import CONFLICT, NOT_FOUND, UNKNOWN_CURSOR
from api.resources.quotes import UNPRICED
from api.schemas.job_bodies import JobBody, LogBody
from api.schemas.job_documents import JobDocument, JobPageDocument
from api.schemas.jobs import JobPath, JobsQuery
from api.security import BENCH
from api.services.jobs.document import job_summary
from api.services.jobs.terms import AttemptAsk, JobAsk, LogAsk
from pricing.margin_check.actual import MONEY, JobMoney

ADDRESS = "/v1/jobs"
ONE = f"{ADDRESS}/<job_id>"
ETAG = {"ETag": "Its version; a change has to name it in If-Match."}
LOCATION = {"Location": "Where the new job is."}
PATH = {"job_id": "bQ0r9sHq3mX1vT7cLd5w2A"}
ID_IN_BODY = {"job_id": "$response.body#/id"}
CHANGE = ID_IN_BODY | {"header.If-Match": "$response.header.ETag"}
ATTEMPT = {
    "outcome": "scrapped",
    "stage": "fold",
    "minutes": {"punch": "6.5", "fold": "8.25"},
    "slug_g": "3.61",
}
LOG = {
    "sold_price": "189.95",
    "fees": "3.86",
    "coins": [{"count": 2, "unit_cost": "17.40"}],
}

routes = Routes(
    "jobs",
    title="Jobs",
    about="The bench log: what was really done, used, paid and received for a "
    "quote or a listing. What is not written down is taken as planned. A completed job "
    "says what its margin came to, and what made the difference.",
)


@routes.operation(
    "POST",
    ADDRESS,
    scope=BENCH,
    summary="Open a job",
    body=JobBody(),
    answers={201: JobDocument()},
    problems=(CONFLICT, NOT_FOUND, *UNPRICED),
    idempotency="required",
    answer_headers=ETAG | LOCATION,
    links={"read_job": ID_IN_BODY, "complete_job": CHANGE, "change_job": CHANGE},
    examples=Examples(body={"quote_id": "aQ0r9sHq3mX1vT7cLd5w2A", "reference": "K-17"}),
)
def open_job(call: Call) -> Reply:
    """Open a job for an accepted quote, or for pieces of a listing at its price.

    What is known of it may come with it; with a completed_at the job is completed at
    once. A quote has one job.
    """
    body = call.body()
    spot = body["spot"]
    ask = JobAsk(
        quote=body["quote_id"],
        sku=body["sku"],
        size=body["size"],
        quantity=body["quantity"],
        spot_price=spot["price"] if spot else None,
        reference=body["reference"],
    )
    return whole(call, call.services.bench.jobs.open(ask, log_ask(body)), new=True)


@routes.operation(
    "GET",
    ADDRESS,
    scope=BENCH,
    summary="List jobs",
    query=JobsQuery(),
    answers={200: JobPageDocument()},
    problems=(UNKNOWN_CURSOR,),
    answer_headers={"Link": LINKS},
    examples=Examples(query={"status": "open", "limit": "10"}),
)
def list_jobs(call: Call) -> Reply:
    """List jobs, newest first; follow the Link header for more."""
    asked, services = call.query, call.services
    listing = Listing(
        path=ADDRESS,
        query=request.args.to_dict(),
        secret=services.installation.secret(SECRET),
    )
    place = listing.place()
    names = ("status", "week", "quote_id", "sku", "text")
    wanted = JobFilter(**{name: asked[name] for name in names if name in asked})
    page = services.bench.jobs.page(
        wanted, limit=asked["limit"], past=place.past, newer=place.newer
    )
    links = listing.links(
        [job.seq for job in page.jobs], older=page.older, newer=page.newer
    )
    return Reply({"jobs": [job_summary(job) for job in page.jobs]}, headers=links)


@routes.operation(
    "GET",
    ONE,
    scope=BENCH,
    summary="Read a job",
    path=JobPath(),
    answers={200: JobDocument()},
    answer_headers=ETAG,
    examples=Examples(path=PATH),
)
def read_job(call: Call) -> Reply:
    """Read a job with its plan, its log, and what came of it."""
    return whole(call, found(call))


@routes.operation(
    "PUT",
    ONE,
    scope=BENCH,
    summary="Write down what is known of a job",
    path=JobPath(),
    body=LogBody(),
    answers={200: JobDocument()},
    problems=(CONFLICT,),
    conditional=True,
    answer_headers=ETAG,
    examples=Examples(path=PATH, body=LOG),
)
def change_job(call: Call) -> Reply:
    """Replace what is known of money and coins, and of attempts where they are given.

    A completed job is corrected by this: what it came to is worked out anew, and a
    completed_at moves it to the week of that day.
    """
    job = found(call)
    expected = matched(call, job)
    ask = log_ask(call.body())
    return whole(call, call.services.bench.jobs.change(job.id, ask, expected=expected))


def found(call: Call) -> Job:
    """The job that the path names. Raises NotFound."""
    job: Job = call.services.bench.jobs.get(call.path["job_id"])
    return job


def matched(call: Call, job: Job) -> int | None:
    """The version that If-Match names; None for whatever it is. Raises Refused."""
    return job.version if call.require_match(tag_of(job)) else None


def tag_of(job: Job) -> str:
    """The entity tag of a job."""
    return tag("job", job.version)


def whole(call: Call, job: Job, *, new: bool = False) -> Reply:
    """Answer with all of a job."""
    headers = {"Location": f"{ADDRESS}/{job.id}"} if new else {}
    document = call.services.bench.jobs.document(job)
    return Reply(document, etag=tag_of(job), headers=headers)


def log_ask(body: dict[str, Any]) -> LogAsk:
    """What a body says is to be written down."""
    attempts = body["attempts"]
    return LogAsk(
        money=JobMoney(**{name: body[name] for name in MONEY}),
        coins=coins_of(body["coins"]),
        attempts=(
            None if attempts is None else tuple(AttemptAsk(**each) for each in attempts)
        ),
        completed_at=body["completed_at"],
    )


def coins_of(body: list[dict[str, Any]]) -> tuple[LoggedCoins, ...]:
    """Coins as a body tells of them."""
    return tuple(LoggedCoins(**each) for each in body)
