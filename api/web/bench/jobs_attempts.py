"""A coin written down by hand: minutes and all, corrected, or struck out."""

from __future__ import annotations

from typing import Any

from flask import abort

from api.ports import Conflict
from api.ports.jobs import LoggedAttempt
from api.schemas.job_bodies import AttemptBody
from api.services.jobs.terms import AttemptAsk
from api.services.jobs.writing import attempt_in
from api.web.bench.jobs import ADDRESS
from api.web.bench.jobs_one import ONE
from api.web.bench.jobs_view import JobShown, job_shown, tenth, values_of
from api.web.bench.jobs_words import OUTCOME_WORDS
from api.web.pages import Page, Pages, Redirect
from api.web.typed_numbers import whole_number
from api.web.visit import Visit

COIN = f"{ONE}/coins"

pages = Pages("job_coins", title="A coin of a job", tab="jobs")


@pages.get(f"{COIN}/new")
def new_coin(visit: Visit) -> Page:
    """A coin to be written down."""
    return _page(visit, None)


@pages.post(f"{COIN}/new", again=new_coin, once=True)
def add_coin(visit: Visit) -> Redirect:
    """Write down what became of a coin."""
    ask = AttemptAsk(**visit.read(AttemptBody()))
    job, _ = visit.services.bench.attempts.add(visit.path["job_id"], ask)
    return _back(job.id, ask.line, "corrected")


@pages.get(f"{COIN}/<n>")
def one_coin(visit: Visit) -> Page:
    """A coin to be corrected."""
    return _page(visit, _coin(visit))


@pages.post(f"{COIN}/<n>", again=one_coin, once=True)
def change_coin(visit: Visit) -> Redirect:
    """Write down anew what became of a coin."""
    ask = AttemptAsk(**visit.read(AttemptBody()))
    job, _ = visit.services.bench.attempts.change(
        visit.path["job_id"], _coin(visit).n, ask, expected=version_of(visit)
    )
    return _back(job.id, ask.line, "corrected")


@pages.get(f"{COIN}/<n>/remove")
def ask_to_remove(visit: Visit) -> Page:
    """A coin, once more, before it is struck out."""
    coin = _coin(visit)
    values = values_of(visit, job_shown(visit, visit.path["job_id"]))
    return Page("bench/job_coin_remove.html", values | {"coin": coin})


@pages.post(f"{COIN}/<n>/remove", again=ask_to_remove, once=True)
def remove_coin(visit: Visit) -> Redirect:
    """Strike a coin out, as if it had not been."""
    coin = _coin(visit)
    job = visit.services.bench.attempts.remove(
        visit.path["job_id"], coin.n, expected=version_of(visit)
    )
    return _back(job.id, coin.line, "removed")


def version_of(visit: Visit) -> int:
    """The version that the page showed. Raises Conflict for none."""
    found = whole_number(visit.form.text("_version"))
    if not found:
        raise Conflict("this form came without its version; load the page again")
    return found


def _coin(visit: Visit) -> LoggedAttempt:
    number = whole_number(visit.path["n"])
    if not number:
        abort(404)
    job = visit.services.bench.jobs.get(visit.path["job_id"])
    return attempt_in(visit.services.bench.jobs.log(job), job, number)


def _page(visit: Visit, coin: LoggedAttempt | None) -> Page:
    shown = job_shown(visit, visit.path["job_id"])
    line = coin.line if coin else shown.line
    values = values_of(visit, shown) | _fields(shown, coin, line)
    return Page("bench/job_coin.html", values)


def _fields(shown: JobShown, coin: LoggedAttempt | None, line: int) -> dict[str, Any]:
    stages = shown.document["plan"]["lines"][line]["stages"]
    return {
        "coin": coin,
        "line": line,
        "route": [
            (x["key"], x["title"] or x["key"], tenth(x["minutes_per_try"]))
            for x in stages
        ],
        "stage_options": [(x["key"], x["title"] or x["key"]) for x in stages],
        "outcome_options": [(key, word) for key, (word, _) in OUTCOME_WORDS.items()],
        "version": shown.job.version,
    }


def _back(job_id: str, line: int, done: str) -> Redirect:
    return Redirect(f"{ADDRESS}/{job_id}?line={line}", done=done)
