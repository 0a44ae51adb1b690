"""A job as its page shows it: lines, stages, coins, and what came of it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from api.ports.jobs import Job, JobLog, LoggedAttempt
from api.services.jobs.document import job_document
from api.services.jobs.stopwatch import Running
from api.web.bench.jobs_cautions import cautions_of
from api.web.bench.jobs_words import MONEY_WORDS, OUTCOME_WORDS, PLANNED_MONEY
from api.web.typed_numbers import whole_number
from api.web.visit import Visit
from pricing import money
from pricing.money import ZERO
from pricing.ring_size import ring_size

COINS_SHOWN = 30
_TENTH = Decimal("0.1")

Plan = Mapping[str, Any]


@dataclass(frozen=True, slots=True, kw_only=True)
class LineShown:
    """A line of a job: what is made, and how far it is.

    Attributes:
        place: from 0.
        good, scrapped: coins that ended so [count]; ``pieces`` are promised.
    """

    place: int
    title: str
    pieces: int
    good: int
    scrapped: int


@dataclass(frozen=True, slots=True, kw_only=True)
class StageShown:
    """A stage of the route of the line in hand.

    Attributes:
        minutes: of the coin at the bench so far [min]; None for none.
        planned: for one coin that comes here [min].
    """

    key: str
    title: str
    minutes: Decimal | None
    planned: Decimal
    runs: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class JobShown:
    """All that the page of a job shows.

    Attributes:
        document: the job as it is on the wire.
        line: the line in hand; ``coin`` the coin of it at the bench, if any.
        in_hand: number of the coin in hand, or that it will have.
    """

    job: Job
    document: Mapping[str, Any]
    running: Running | None
    lines: Sequence[LineShown]
    line: int
    stages: Sequence[StageShown]
    coin: LoggedAttempt | None
    in_hand: int
    attempts: Sequence[LoggedAttempt]


def job_shown(visit: Visit, job_id: str) -> JobShown:
    """The job of an id, with the line that the address names. Raises NotFound."""
    job, running = visit.services.bench.stopwatch.running(job_id)
    log = visit.services.bench.jobs.log(job)
    document = job_document(job, log)
    planned = document["plan"]["lines"]
    place = _line(visit, len(planned), running, log)
    coin = at_bench(log.attempts, place)
    return JobShown(
        job=job,
        document=document,
        running=running,
        lines=[*_lines(planned, log.attempts)],
        line=place,
        stages=[*_stages(planned[place], coin, running, place)],
        coin=coin,
        in_hand=coin.n if coin else _next(log.attempts),
        attempts=log.attempts,
    )


def values_of(visit: Visit, shown: JobShown) -> dict[str, Any]:
    """What the templates of a job are drawn with."""
    titles = {
        stage["key"]: stage["title"] or stage["key"]
        for line in shown.document["plan"]["lines"]
        for stage in line["stages"]
    }
    return {
        "shown": shown,
        "job": shown.job,
        "document": shown.document,
        "titles": titles,
        "outcomes": OUTCOME_WORDS,
        "cares": cautions_of(visit, shown.job, shown.document["plan"]),
        "latest": shown.attempts[: -COINS_SHOWN - 1 : -1],
        "known": [*known_money(shown.document)],
    }


def at_bench(attempts: Sequence[LoggedAttempt], line: int) -> LoggedAttempt | None:
    """The coin of a line that is at the bench."""
    for attempt in attempts:
        if attempt.outcome == "open" and attempt.line == line:
            return attempt
    return None


def line_title(line: Plan) -> str:
    """What a line of a plan makes: coin and size."""
    size = line["size"]
    return f"{line['coin_name']}, {ring_size(size['system'], size['size']).label}"


def known_money(
    document: Mapping[str, Any],
) -> Iterator[tuple[str, str, Decimal | None, Decimal | None]]:
    """Each figure of the money: its name, its words, as known, as planned."""
    for name, (words, _) in MONEY_WORDS.items():
        yield name, words, document[name], planned_money(document["plan"], name)


def planned_money(plan: Plan, name: str) -> Decimal | None:
    """What a plan says of a figure of the money [currency]; None where it does not."""
    if name in PLANNED_MONEY:
        amount: Decimal = plan[name]
        return amount
    lines = plan["lines"]
    if name == "recovery_sold":
        return sum((line["recovery"] for line in lines), ZERO)
    if name == "consumables_and_tools":
        return sum((line[name] for line in lines), ZERO)
    return None


def _line(visit: Visit, count: int, running: Running | None, log: JobLog) -> int:
    """The line that is asked for, or that is timed, or has a coin at the bench."""
    asked = whole_number(visit.query.get("line", ""))
    if asked is not None and asked < count:
        return asked
    if running is not None:
        return running.timer.line
    return next((x.line for x in log.attempts if x.outcome == "open"), 0)


def _lines(
    planned: Sequence[Plan], attempts: Sequence[LoggedAttempt]
) -> Iterator[LineShown]:
    for place, line in enumerate(planned):
        ended = [each.outcome for each in attempts if each.line == place]
        yield LineShown(
            place=place,
            title=line_title(line),
            pieces=line["pieces"],
            good=ended.count("good"),
            scrapped=ended.count("scrapped"),
        )


def _stages(
    line: Plan, coin: LoggedAttempt | None, running: Running | None, place: int
) -> Iterator[StageShown]:
    for stage in line["stages"]:
        runs = running is not None and (
            (running.timer.line, running.timer.stage) == (place, stage["key"])
        )
        yield StageShown(
            key=stage["key"],
            title=stage["title"] or stage["key"],
            minutes=tenth(coin.minutes.get(stage["key"]) if coin else None),
            planned=tenth(stage["minutes_per_try"]) or ZERO,
            runs=runs,
        )


def tenth(minutes: Decimal | None) -> Decimal | None:
    """Minutes as they are read from afar [min]; None for none."""
    return None if minutes is None else Decimal(money.shown(minutes, _TENTH))


def _next(attempts: Sequence[LoggedAttempt]) -> int:
    return max((each.n for each in attempts), default=0) + 1
