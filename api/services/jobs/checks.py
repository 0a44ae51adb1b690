"""What is written down for a job has to be possible, and has to fit its plan."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from decimal import Decimal
from functools import lru_cache

from api.ports.jobs import LoggedCoins, ToldAttempt
from api.services.jobs.terms import (
    LARGEST_AMOUNT,
    MOST_ATTEMPTS,
    MOST_COINS,
    MOST_GRAMS,
    MOST_MINUTES,
    MOST_VISITS,
    PLACES,
    attempt_of,
)
from api.services.plain_text import plain_line
from pricing.errors import Fault, InvalidInput, Path
from pricing.margin_check.actual import MONEY, Attempt, CoinsUsed, JobActual, JobMoney
from pricing.margin_check.plan import JobPlan
from pricing.margin_check.soundness import refuse_unsound

_MASSES = ("slug_g", "bored_g", "finished_g")
Attempts = Sequence[ToldAttempt]


def check_log(
    plan: JobPlan,
    money: JobMoney,
    coins: Sequence[LoggedCoins],
    attempts: Attempts,
) -> None:
    """Stop where something cannot be, or cannot be kept exactly.

    Raises:
        InvalidInput: with every fault, by its path in the job's document.
    """
    faults = [*log_faults(plan, money, coins, attempts)]
    if faults:
        first = faults[0]
        raise InvalidInput(first.message, path=first.path, faults=tuple(faults))


def check_attempt(plan: JobPlan, attempt: ToldAttempt) -> None:
    """Stop where an attempt cannot be. Raises InvalidInput, paths from the attempt."""
    faults = tuple(
        Fault(fault.path[2:], fault.message)
        for fault in log_faults(plan, JobMoney(), (), [attempt])
    )
    if faults:
        raise InvalidInput(faults[0].message, path=faults[0].path, faults=faults)


def log_faults(
    plan: JobPlan,
    money: JobMoney,
    coins: Sequence[LoggedCoins],
    attempts: Attempts,
) -> Iterator[Fault]:
    """Everything that cannot be in what is said of a job, by its path."""
    yield from figure_faults(money, coins, attempts)
    stages = [frozenset(stage.key for stage in line.stages) for line in plan.lines]
    actual = JobActual(
        **{name: getattr(money, name) for name in MONEY},
        coins=tuple(
            CoinsUsed(line=x.line, count=x.count, unit_cost=x.unit_cost) for x in coins
        ),
        attempts=tuple(_in_brief(each, stages) for each in attempts),
    )
    try:
        refuse_unsound(plan, actual)
    except InvalidInput as error:
        yield from error.faults


def _in_brief(attempt: ToldAttempt, stages: Sequence[frozenset[str]]) -> Attempt:
    """The attempt without minutes that nothing can be wrong with.

    Of a week with thousands of attempts most have a dozen of them; to look at each for
    what to say of it takes as long as to write them.
    """
    known = stages[attempt.line] if attempt.line in range(len(stages)) else frozenset()
    minutes = attempt.minutes
    doubtful = minutes and not (minutes.keys() <= known and min(minutes.values()) >= 0)
    return attempt_of(attempt, minutes=bool(doubtful))


def figure_faults(
    money: JobMoney, coins: Sequence[LoggedCoins], attempts: Attempts
) -> Iterator[Fault]:
    """Figures that cannot be kept, whatever the plan is, by their paths."""
    yield from _too_many(coins, attempts)
    yield from _money_faults(money)
    for i, each in enumerate(coins):
        yield from _figure(("coins", i, "unit_cost"), each.unit_cost, LARGEST_AMOUNT)
    for i, attempt in enumerate(attempts):
        yield from _attempt_faults(("attempts", i), attempt)
    yield from _second_open(attempts)


def _second_open(attempts: Attempts) -> Iterator[Fault]:
    """A coin at the bench beside another of its line: a stopwatch knows but one."""
    seen: set[int] = set()
    for i, attempt in enumerate(attempts):
        if attempt.outcome == "open":
            if attempt.line in seen:
                said = "another coin of the line is still at the bench; end that first"
                yield Fault(("attempts", i, "outcome"), said)
            seen.add(attempt.line)


def _too_many(coins: Sequence[LoggedCoins], attempts: Attempts) -> Iterator[Fault]:
    if len(attempts) > MOST_ATTEMPTS:
        said = f"{len(attempts)} attempts; a job takes up to {MOST_ATTEMPTS}"
        yield Fault(("attempts",), said)
    if len(coins) > MOST_COINS:
        said = f"{len(coins)} purchases of coins; a job takes up to {MOST_COINS}"
        yield Fault(("coins",), said)


def _money_faults(money: JobMoney) -> Iterator[Fault]:
    for name in MONEY:
        amount = getattr(money, name)
        if amount is not None:
            yield from _figure((name,), amount, LARGEST_AMOUNT)


def _attempt_faults(path: Path, attempt: ToldAttempt) -> Iterator[Fault]:
    yield from _stage_faults(path, attempt)
    for name in _MASSES:
        mass = getattr(attempt, name)
        if mass is not None and not _fits(mass, MOST_GRAMS):
            yield from _figure((*path, name), mass, MOST_GRAMS)
    if attempt.note:
        yield from _note_faults(path, attempt.note)
    if attempt.outcome == "open" and attempt.stage is not None:
        said = "an attempt that is still at the bench was not scrapped; leave this out"
        yield Fault((*path, "stage"), said)


def _stage_faults(path: Path, attempt: ToldAttempt) -> Iterator[Fault]:
    for stage, minutes in attempt.minutes.items():
        if not _fits(minutes, MOST_MINUTES):
            yield from _figure((*path, "minutes", stage), minutes, MOST_MINUTES)
    for stage, visits in attempt.visits.items():
        if visits > MOST_VISITS:
            said = f"{visits} visits; give at most {MOST_VISITS}"
            yield Fault((*path, "visits", stage), said)


def _note_faults(path: Path, note: str) -> Iterator[Fault]:
    try:
        plain_line(note, "note")
    except InvalidInput as error:
        yield Fault((*path, "note"), error.message)


@lru_cache(maxsize=4096)  # the same minutes come again and again
def _fits(figure: Decimal, below: Decimal) -> bool:
    return figure < below and not figure.scaleb(PLACES) % 1


def _figure(path: Path, figure: Decimal, below: Decimal) -> Iterator[Fault]:
    if figure >= below:
        yield Fault(path, f"{figure} is too much; give less than {below}")
    elif figure.scaleb(PLACES) % 1:
        yield Fault(path, f"{figure} is too exact; give at most {PLACES} decimals")
