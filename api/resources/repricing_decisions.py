"""What becomes of repricings: applied in one act, and undone exactly."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

from api.endpoint import Call, Examples, Reply, Routes
from api.errors import Refused
from api.ports import Place, Repricing
from api.preconditions import tag
from api.problems import CONFLICT
from api.resources.repricings import ETAG, ONE, PATH, found, tag_of, whole
from api.schemas.repricing_documents import RepricingDocument
from api.schemas.repricings import ApplyBody, RepricingPath
from api.security import BENCH
from api.services.repricings.refusals import Changed, Overtaken
from pricing.money import trimmed

TO_UNDO = {"repricing_id": "7d793037a0760186574b0282f2f435e7"}

routes = Routes(
    "repricing_decisions",
    title="Applying and undoing",
    about="Both name the version they were decided on in If-Match, and both come into "
    "force for all bands at once. Where listings stand against it, a 409 lists them.",
)


@routes.operation(
    "POST",
    f"{ONE}/apply",
    scope=BENCH,
    summary="Apply a repricing",
    path=RepricingPath(),
    body=ApplyBody(),
    body_needed=False,
    answers={200: RepricingDocument()},
    problems=(CONFLICT,),
    conditional=True,
    answer_headers=ETAG,
    links={
        "read_repricing": {"repricing_id": "$response.body#/id"},
        "undo_repricing": {
            "repricing_id": "$response.body#/id",
            "header.If-Match": "$response.header.ETag",
        },
    },
    examples=Examples(path=PATH, body={"include": []}),
)
def apply_repricing(call: Call) -> Reply:
    """Put the new prices in force: those to be raised or lowered, and those named.

    Until all of them are ready none is in force, and the others go on being served.
    The tag in If-Match makes it safe to send again: what was cut short goes on, and
    what is done is refused with 412. With 409 it is refused where one of its
    listings, the price book or a coin has changed since the preview: make a new one.
    """
    run = found(call)
    expected = _expected(call, run)
    include = [Place(band["sku"], band["size_from"]) for band in call.body()["include"]]
    with _listed():
        applied = call.services.repricings.apply(
            run.id, expected=expected, include=include
        )
    return whole(applied)


@routes.operation(
    "POST",
    f"{ONE}/undo",
    scope=BENCH,
    summary="Undo a repricing",
    path=RepricingPath(),
    answers={200: RepricingDocument()},
    problems=(CONFLICT,),
    conditional=True,
    answer_headers=ETAG,
    examples=Examples(path=TO_UNDO),
)
def undo_repricing(call: Call) -> Reply:
    """Put the prices before it in force again, each exactly as it was.

    Refused where one of them was changed since; there is no time limit otherwise.
    """
    run = found(call)
    expected = _expected(call, run)
    with _listed():
        return whole(call.services.repricings.undo(run.id, expected=expected))


def _expected(call: Call, run: Repricing) -> int | None:
    """The version that If-Match names; None for whatever it is. Raises Refused."""
    tags = [tag_of(run)]
    if run.status == "applying":  # still the preview that it was begun from
        tags.append(tag("repricing", run.version - 1))
    return run.version if call.require_match(*tags) else None


@contextmanager
def _listed() -> Iterator[None]:
    """Let a refusal list what stands against it."""
    try:
        yield
    except Overtaken as error:
        listings = [_changed(each) for each in error.changed]
        raise Refused(
            CONFLICT, error.message, members={"listings": listings}
        ) from error


def _changed(each: Changed) -> dict[str, str]:
    size = each.size_from
    return {"sku": each.sku} | ({} if size is None else {"from": trimmed(size)})
