"""The page of a job at the bench: the stopwatch, the coin in hand, what came of it."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import asdict, fields, replace
from typing import Any

from api.errors import Refused
from api.ports import Conflict
from api.ports.jobs import LoggedAttempt
from api.problems import BAD_REQUEST
from api.schemas.document import Document
from api.schemas.fields import Bounds, MassText
from api.schemas.telling import told
from api.services.jobs.terms import AttemptAsk
from api.services.jobs.writing import attempt_in
from api.web.bench.jobs import ADDRESS
from api.web.bench.jobs_came import came_of
from api.web.bench.jobs_view import JobShown, at_bench, job_shown, values_of
from api.web.pages import Page, Pages, Redirect
from api.web.typed_numbers import whole_number
from api.web.visit import Visit
from pricing.errors import InvalidInput

ONE = f"{ADDRESS}/<job_id>"
_MASS = Bounds(above=0, below=10**4)

pages = Pages(
    "job",
    title="Job",
    tab="jobs",
    done={
        "opened": "The job is open. Press a stage to start.",
        "started": "It is timed.",
        "stopped": "Stopped; the minutes are with the coin.",
        "thrown": "Thrown away; no minute was added.",
        "good": "The coin is good. It can be taken back below.",
        "scrapped": "The coin is scrapped. It can be taken back below.",
        "weighed": "The readings are with the coin.",
        "back": "The coin is at the bench again.",
        "removed": "The coin is struck out, as if it had not been.",
        "corrected": "It is written down anew.",
        "kept": "It is written down.",
        "completed": "The job is done.",
        "reopened": "The job is at the bench again.",
    },
)


class ReadingsBody(Document):
    """What the scale says of the coin in hand; what is blank stays as it was."""

    slug_g = told(MassText, "The slug [g].", bounds=_MASS, load_default=None)
    bored_g = told(MassText, "Filings bored out [g].", bounds=_MASS, load_default=None)
    finished_g = told(MassText, "The ring [g].", bounds=_MASS, load_default=None)


@pages.get(ONE)
def job(visit: Visit) -> Page:
    """The job, as it is at the bench or as it came out."""
    shown = job_shown(visit, visit.path["job_id"])
    values = values_of(visit, shown)
    if shown.job.result is not None:
        values |= came_of(visit, shown.job, shown.job.result)
    return Page("bench/job.html", values)


@pages.post(ONE, again=job, once=True)
def work(visit: Visit) -> Redirect:
    """Do what the button that was pressed stands for."""
    shown = job_shown(visit, visit.path["job_id"])
    deed, _, what = visit.form.text("_do").partition("-")
    doing = _DEEDS.get(deed)
    if doing is None:
        raise Refused(BAD_REQUEST, "Press one of the buttons of this page.")
    done = doing(visit, shown, what)
    line = f"?line={shown.line}" if len(shown.lines) > 1 else ""
    return Redirect(f"{ADDRESS}/{shown.job.id}{line}", done=done)


def _start(visit: Visit, shown: JobShown, stage: str) -> str:
    """Time a stage; what is timed, as far as the page showed it, is stopped."""
    stopwatch = visit.services.bench.stopwatch
    if shown.running is not None and visit.form.text("_seen") == seen_of(shown):
        stopwatch.stop(shown.job.id)
    stopwatch.start(shown.job.id, stage, line=shown.line)
    return "started"


def _stop(visit: Visit, shown: JobShown, _: str) -> str:
    _as_seen(visit, shown)
    visit.services.bench.stopwatch.stop(shown.job.id)
    return "stopped"


def _throw(visit: Visit, shown: JobShown, _: str) -> str:
    _as_seen(visit, shown)
    visit.services.bench.stopwatch.discard(shown.job.id)
    return "thrown"


def _good(visit: Visit, shown: JobShown, _: str) -> str:
    _close(visit, shown, outcome="good")
    return "good"


def _scrap(visit: Visit, shown: JobShown, stage: str) -> str:
    _close(visit, shown, outcome="scrapped", stage=stage)
    return "scrapped"


def _weigh(visit: Visit, shown: JobShown, _: str) -> str:
    read = visit.read(ReadingsBody())
    readings = {name: mass for name, mass in read.items() if mass is not None}
    if not readings:
        raise InvalidInput("write what the scale says", path=("slug_g",))
    _write(visit, shown, outcome="open", **readings)
    return "weighed"


def _back(visit: Visit, shown: JobShown, number: str) -> str:
    """Take back how a coin ended; its minutes and readings stay."""
    log = visit.services.bench.jobs.log(shown.job)
    old = attempt_in(log, shown.job, whole_number(number) or 0)
    ask = ask_of(old, outcome="open", stage=None)
    visit.services.bench.attempts.change(shown.job.id, old.n, ask, expected=None)
    return "back"


_DEEDS: Mapping[str, Callable[[Visit, JobShown, str], str]] = {
    "start": _start,
    "stop": _stop,
    "throw": _throw,
    "good": _good,
    "scrap": _scrap,
    "weigh": _weigh,
    "back": _back,
}
"""What the buttons of the page do, and what is said afterwards."""


def seen_of(shown: JobShown) -> str:
    """What a page knows a running stopwatch by."""
    return shown.running.timer.started_at.isoformat() if shown.running else ""


def ask_of(attempt: LoggedAttempt, **changed: Any) -> AttemptAsk:
    """An attempt as it is told, with something of it changed."""
    members = asdict(attempt)
    told_of = {each.name: members[each.name] for each in fields(AttemptAsk)}
    return replace(AttemptAsk(**told_of), **changed)


def _as_seen(visit: Visit, shown: JobShown) -> None:
    """Stop where another stopwatch runs than the page showed. Raises Conflict."""
    if shown.running is not None and visit.form.text("_seen") != seen_of(shown):
        raise Conflict(
            "another stopwatch runs by now than the one this page showed; look at it "
            "below, and press again"
        )


def _close(visit: Visit, shown: JobShown, **ended: Any) -> None:
    """Say how the coin in hand ended; its stopwatch is stopped first."""
    if shown.running is not None and shown.running.timer.line == shown.line:
        _as_seen(visit, shown)
        visit.services.bench.stopwatch.stop(shown.job.id)
    _write(visit, shown, **ended)


def _write(visit: Visit, shown: JobShown, **changed: Any) -> None:
    """Write into the coin in hand, or begin one."""
    bench = visit.services.bench
    coin = at_bench(bench.jobs.log(shown.job).attempts, shown.line)
    if coin is None:
        bench.attempts.add(shown.job.id, AttemptAsk(line=shown.line, **changed))
    else:
        ask = ask_of(coin, **changed)
        bench.attempts.change(shown.job.id, coin.n, ask, expected=None)
