"""`fineweight log attempt`, `start`, `stop` and `discard`: the work itself."""

from __future__ import annotations

from dataclasses import fields, replace
from decimal import Decimal
from typing import Any

import click
from click.core import ParameterSource

from api.cli.context import Desk, with_desk
from api.cli.log_jobs import JOB
from api.cli.log_options import ByStage
from api.cli.log_words import attempt_list
from api.cli.output import note
from api.cli.wish_options import EXACT
from api.cli.written import WRITTEN
from api.ports.jobs import OUTCOMES, LoggedAttempt
from api.services.jobs.document import attempt_document
from api.services.jobs.terms import AttemptAsk
from api.services.jobs.writing import attempt_in

_LINE = click.option(
    "--line",
    type=click.IntRange(min=1),
    default=1,
    show_default=True,
    metavar="N",
    help="Which line of the quote.",
)


@click.command()
@JOB
@click.argument("outcome", type=click.Choice(OUTCOMES))
@_LINE
@click.option("--stage", type=WRITTEN, metavar="STAGE", help="Where it was scrapped.")
@click.option(
    "--minutes",
    type=ByStage(),
    multiple=True,
    metavar="STAGE=MIN",
    help="Attended minutes at a stage; may be repeated.",
)
@click.option(
    "--visits",
    type=ByStage(),
    multiple=True,
    metavar="STAGE=N",
    help="How often it came to a stage; may be repeated.",
)
@click.option("--slug", "slug_g", type=EXACT, metavar="G", help="The slug weighed.")
@click.option("--bored", "bored_g", type=EXACT, metavar="G", help="What was bored out.")
@click.option("--finished", "finished_g", type=EXACT, metavar="G", help="The ring.")
@click.option("--note", type=WRITTEN, default="", metavar="TEXT", help="In a line.")
@click.option(
    "--number",
    type=click.IntRange(min=1),
    metavar="N",
    help="Correct this attempt; what is not given stays.",
)
@with_desk
def attempt(desk: Desk, *, job: str, number: int | None, **given: Any) -> None:
    """Write down an attempt of a JOB: one coin that was put to work.

    \b
    Examples:
      fineweight log attempt 2026-0017 good --minutes fold=8.5 --slug 3.61
      fineweight log attempt 2026-0017 scrapped --stage fold
      fineweight log attempt 2026-0017 good --number 2
    """  # noqa: D301 - Click keeps the lines together at its own mark
    ask = AttemptAsk(
        **given
        | {
            "line": given["line"] - 1,
            "minutes": dict(given["minutes"]),
            "visits": _counts(dict(given["visits"])),
        }
    )
    bench = desk.services.bench
    found = bench.jobs.find(job)
    if number is None:
        _, written = bench.attempts.add(found.id, ask)
    else:
        old = attempt_in(bench.jobs.log(found), found, number)
        _, written = bench.attempts.change(
            found.id, number, _corrected(old, ask), expected=found.version
        )
    _shown(desk, written)


@click.command()
@JOB
@click.argument("stage", type=WRITTEN)
@_LINE
@with_desk
def start(desk: Desk, *, job: str, stage: str, line: int) -> None:
    """Start the stopwatch of a JOB at a STAGE.

    \b
    Examples:
      fineweight log start 2026-0017 fold
    """  # noqa: D301 - Click keeps the lines together at its own mark
    bench = desk.services.bench
    found, running = bench.stopwatch.start(
        bench.jobs.find(job).id, stage, line=line - 1
    )
    desk.show_as(
        "job_documents:RunningDocument",
        running,
        lambda: f"The stopwatch of {found.number} runs at {running.timer.stage}.",
    )


@click.command()
@JOB
@with_desk
def stop(desk: Desk, *, job: str) -> None:
    """Stop the stopwatch of a JOB; its minutes go to the attempt at the bench.

    \b
    Examples:
      fineweight log stop 2026-0017
    """  # noqa: D301 - Click keeps the lines together at its own mark
    bench = desk.services.bench
    _, written = bench.stopwatch.stop(bench.jobs.find(job).id)
    _shown(desk, written)


@click.command()
@JOB
@with_desk
def discard(desk: Desk, *, job: str) -> None:
    """Throw away what the stopwatch of a JOB has measured.

    \b
    Examples:
      fineweight log discard 2026-0017
    """  # noqa: D301 - Click keeps the lines together at its own mark
    bench = desk.services.bench
    found = bench.stopwatch.discard(bench.jobs.find(job).id)
    if desk.as_json:
        desk.show({"number": found.number, "discarded": True}, str)
    else:
        note(f"The stopwatch of {found.number} is thrown away.")


def _corrected(old: LoggedAttempt, ask: AttemptAsk) -> AttemptAsk:
    """What is asked, and of what the command does not name that which was logged."""
    source = click.get_current_context().get_parameter_source
    kept = {
        each.name: getattr(old, each.name)
        for each in fields(AttemptAsk)
        if source(each.name) is ParameterSource.DEFAULT
    }
    if ask.outcome != "scrapped":
        kept.pop("stage", None)
    both = {
        "minutes": {**old.minutes, **ask.minutes},
        "visits": {**old.visits, **ask.visits},
    }
    return replace(ask, **kept | both)


def _counts(visits: dict[str, Decimal]) -> dict[str, int]:
    for stage, figure in visits.items():
        if figure % 1:
            raise click.UsageError(f"--visits {stage}={figure}: give a whole number")
    return {stage: int(figure) for stage, figure in visits.items()}


def _shown(desk: Desk, attempt: LoggedAttempt) -> None:
    desk.show_as(
        "job_documents:AttemptDocument",
        attempt_document(attempt),
        lambda: attempt_list([attempt]),
    )
