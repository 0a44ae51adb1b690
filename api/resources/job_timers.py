"""The stopwatch of a job, for a phone at the bench."""

from __future__ import annotations

from api.endpoint import Call, Examples, Reply, Routes
from api.ports import NotFound
from api.problems import CONFLICT
from api.resources.job_progress import JOB_TAG
from api.resources.jobs import ONE, PATH, found, tag_of
from api.schemas.job_bodies import TimerBody
from api.schemas.job_documents import AttemptDocument, RunningDocument
from api.schemas.jobs import JobPath
from api.security import BENCH
from api.services.jobs.document import attempt_document

TIMER = f"{ONE}/timer"
TIMED = {"job_id": "dQ0r9sHq3mX1vT7cLd5w2A"}
"""A job whose stopwatch runs, in examples."""

routes = Routes(
    "job_timers",
    title="Stopwatches",
    about="One stopwatch a job, started at a stage and stopped into the open attempt. "
    "One that has run for over twelve hours was forgotten: it can only be thrown away.",
)


@routes.operation(
    "GET",
    TIMER,
    scope=BENCH,
    summary="Read the stopwatch",
    path=JobPath(),
    answers={200: RunningDocument()},
    examples=Examples(path=TIMED),
)
def read_timer(call: Call) -> Reply:
    """Read where the stopwatch of a job runs, and for how long."""
    job, running = call.services.bench.stopwatch.running(found(call).id)
    if running is None:
        raise NotFound(f"no stopwatch runs for job {job.number}")
    return Reply(running)


@routes.operation(
    "POST",
    f"{TIMER}/start",
    scope=BENCH,
    summary="Start the stopwatch",
    path=JobPath(),
    body=TimerBody(),
    answers={201: RunningDocument()},
    problems=(CONFLICT,),
    idempotency="optional",
    answer_headers=JOB_TAG | {"Location": "Where the stopwatch is."},
    examples=Examples(path=PATH, body={"stage": "fold"}),
)
def start_timer(call: Call) -> Reply:
    """Start measuring at a stage; a second one for the job is refused."""
    asked = call.body()
    job, running = call.services.bench.stopwatch.start(
        found(call).id, asked["stage"], line=asked["line"]
    )
    where = {"Location": f"/v1/jobs/{job.id}/timer"}
    return Reply(running, etag=tag_of(job), headers=where)


@routes.operation(
    "POST",
    f"{TIMER}/stop",
    scope=BENCH,
    summary="Stop the stopwatch",
    path=JobPath(),
    answers={200: AttemptDocument()},
    problems=(CONFLICT,),
    idempotency="optional",
    answer_headers=JOB_TAG,
    examples=Examples(path=TIMED),
)
def stop_timer(call: Call) -> Reply:
    """Stop, and add the minutes to the open attempt; where none is, one is begun."""
    job, attempt = call.services.bench.stopwatch.stop(found(call).id)
    return Reply(attempt_document(attempt), etag=tag_of(job))


@routes.operation(
    "DELETE",
    TIMER,
    scope=BENCH,
    summary="Throw the stopwatch away",
    path=JobPath(),
    answers={204: None},
    problems=(CONFLICT,),
    examples=Examples(path=TIMED),
)
def discard_timer(call: Call) -> Reply:
    """Throw away what the stopwatch has measured; no minute is added."""
    call.services.bench.stopwatch.discard(found(call).id)
    return Reply()
