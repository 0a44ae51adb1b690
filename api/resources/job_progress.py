"""What becomes of jobs: attempts one by one, and the end."""

from __future__ import annotations

from api.endpoint import Call, Examples, Reply, Routes
from api.ports.jobs import Job, LoggedAttempt
from api.problems import CONFLICT
from api.resources.jobs import (
    ATTEMPT,
    ETAG,
    ONE,
    PATH,
    coins_of,
    found,
    matched,
    tag_of,
    whole,
)
from api.schemas.job_bodies import AttemptBody, CompleteBody
from api.schemas.job_documents import AttemptDocument, AttemptListDocument, JobDocument
from api.schemas.jobs import AttemptPath, JobPath
from api.security import BENCH
from api.services.jobs.document import attempt_document
from api.services.jobs.terms import AttemptAsk
from api.services.jobs.writing import attempt_in
from pricing.margin_check.actual import MONEY

JOB_TAG = {"ETag": "Of the job, whose version every attempt counts up."}
ATTEMPT_PATH = PATH | {"n": "1"}
DONE = {"job_id": "cQ0r9sHq3mX1vT7cLd5w2A"}
"""A completed job, in examples."""

routes = Routes(
    "job_progress",
    title="Work on jobs",
    about="Attempts as they happen, and the end of a job. An attempt is one coin put "
    "to work.",
)


@routes.operation(
    "POST",
    f"{ONE}/attempts",
    scope=BENCH,
    summary="Write down an attempt",
    path=JobPath(),
    body=AttemptBody(),
    answers={201: AttemptDocument()},
    problems=(CONFLICT,),
    idempotency="required",
    answer_headers=JOB_TAG | {"Location": "Where the attempt is."},
    examples=Examples(path=PATH, body=ATTEMPT),
)
def add_attempt(call: Call) -> Reply:
    """Write down what became of one coin, or that it is at the bench."""
    job = found(call)
    ask = AttemptAsk(**call.body())
    job, attempt = call.services.bench.attempts.add(job.id, ask)
    where = {"Location": f"/v1/jobs/{job.id}/attempts/{attempt.n}"}
    return Reply(attempt_document(attempt), etag=tag_of(job), headers=where)


@routes.operation(
    "GET",
    f"{ONE}/attempts",
    scope=BENCH,
    summary="List attempts",
    path=JobPath(),
    answers={200: AttemptListDocument()},
    answer_headers=JOB_TAG,
    examples=Examples(path=PATH),
)
def list_attempts(call: Call) -> Reply:
    """List every coin put to work for a job, in order."""
    job = found(call)
    log = call.services.bench.jobs.log(job)
    listed = [attempt_document(each) for each in log.attempts]
    return Reply({"attempts": listed}, etag=tag_of(job))


@routes.operation(
    "GET",
    f"{ONE}/attempts/<n>",
    scope=BENCH,
    summary="Read an attempt",
    path=AttemptPath(),
    answers={200: AttemptDocument()},
    answer_headers=JOB_TAG,
    examples=Examples(path=ATTEMPT_PATH),
)
def read_attempt(call: Call) -> Reply:
    """Read what became of one coin."""
    job = found(call)
    log = call.services.bench.jobs.log(job)
    return _told(job, attempt_in(log, job, call.path["n"]))


@routes.operation(
    "PUT",
    f"{ONE}/attempts/<n>",
    scope=BENCH,
    summary="Correct an attempt",
    path=AttemptPath(),
    body=AttemptBody(),
    answers={200: AttemptDocument()},
    problems=(CONFLICT,),
    conditional=True,
    answer_headers=JOB_TAG,
    examples=Examples(path=ATTEMPT_PATH, body=ATTEMPT),
)
def change_attempt(call: Call) -> Reply:
    """Write down anew what became of an attempt, or how an open one has ended."""
    job = found(call)
    expected = matched(call, job)
    ask = AttemptAsk(**call.body())
    job, attempt = call.services.bench.attempts.change(
        job.id, call.path["n"], ask, expected=expected
    )
    return _told(job, attempt)


@routes.operation(
    "DELETE",
    f"{ONE}/attempts/<n>",
    scope=BENCH,
    summary="Take an attempt back",
    path=AttemptPath(),
    answers={204: None},
    problems=(CONFLICT,),
    conditional=True,
    examples=Examples(path=ATTEMPT_PATH),
)
def remove_attempt(call: Call) -> Reply:
    """Take an attempt back that was none; the others keep their numbers."""
    job = found(call)
    expected = matched(call, job)
    call.services.bench.attempts.remove(job.id, call.path["n"], expected=expected)
    return Reply()


@routes.operation(
    "POST",
    f"{ONE}/complete",
    scope=BENCH,
    summary="Complete a job",
    path=JobPath(),
    body=CompleteBody(),
    body_needed=False,
    answers={200: JobDocument()},
    problems=(CONFLICT,),
    conditional=True,
    idempotency="optional",
    answer_headers=ETAG,
    examples=Examples(path=PATH, body={"sold_price": "189.95", "fees": "3.86"}),
)
def complete_job(call: Call) -> Reply:
    """Say that a job is done, with what becomes known of it, and work out what came."""
    job = found(call)
    expected = matched(call, job)
    body = call.body()
    coins = body["coins"]
    done = call.services.bench.jobs.complete(
        job.id,
        expected=expected,
        at=body["completed_at"],
        money={name: body[name] for name in MONEY if body[name] is not None},
        coins=None if coins is None else coins_of(coins),
    )
    return whole(call, done)


@routes.operation(
    "POST",
    f"{ONE}/reopen",
    scope=BENCH,
    summary="Reopen a job",
    path=JobPath(),
    answers={200: JobDocument()},
    problems=(CONFLICT,),
    conditional=True,
    idempotency="optional",
    answer_headers=ETAG,
    examples=Examples(path=DONE),
)
def reopen_job(call: Call) -> Reply:
    """Take back that a job is done; what is written down for it stays."""
    job = found(call)
    expected = matched(call, job)
    return whole(call, call.services.bench.jobs.reopen(job.id, expected=expected))


def _told(job: Job, attempt: LoggedAttempt) -> Reply:
    return Reply(attempt_document(attempt), etag=tag_of(job))
