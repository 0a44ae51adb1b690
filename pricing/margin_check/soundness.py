"""What is logged of a job has to be possible; every fault is told by its path."""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal

from pricing import money
from pricing.errors import Fault, InvalidInput, Path
from pricing.margin_check.actual import (
    MONEY,
    OUTCOMES,
    Attempt,
    CoinsUsed,
    JobActual,
)
from pricing.margin_check.plan import JobPlan, PlannedLine
from pricing.money import ZERO

_ACTUAL_AMOUNTS = tuple(name for name in MONEY if name != "labour_rate")
_PLANNED_AMOUNTS = ("sold_price", "shipping_charged", "tax", "fees", "shipping_paid")
_LINE_AMOUNTS = (
    "goods",
    "coin_amount",
    "recovery",
    "labour",
    "overhead",
    "consumables_and_tools",
    "other",
)
_MASSES = ("slug_g", "bored_g", "finished_g")


def refuse_unsound(plan: JobPlan, actual: JobActual) -> None:
    """Stop where a plan or a log holds figures that cannot be.

    Raises:
        InvalidInput: with every fault; paths lead into the log as it is written, or
            below ``plan``.
    """
    faults = (*_plan_faults(plan), *_money_faults(plan, actual))
    if plan.lines:
        faults = (*faults, *_log_faults(plan, actual))
    if faults:
        first = faults[0]
        raise InvalidInput(first.message, path=first.path, faults=faults)


def _plan_faults(plan: JobPlan) -> Iterator[Fault]:
    if not plan.lines:
        yield Fault(("plan", "lines"), "nothing is planned; a job needs a line")
    for name in _PLANNED_AMOUNTS:
        yield from _amount_faults(("plan", name), getattr(plan, name), plan)
    for i, line in enumerate(plan.lines):
        yield from _line_faults(("plan", "lines", i), line, plan)


def _line_faults(path: Path, line: PlannedLine, plan: JobPlan) -> Iterator[Fault]:
    if line.pieces < 1:
        yield Fault((*path, "pieces"), f"{line.pieces} pieces; plan 1 or more")
    for name in _LINE_AMOUNTS:
        yield from _amount_faults((*path, name), getattr(line, name), plan)
    for name in ("coins", "minutes"):
        yield from _negative((*path, name), getattr(line, name))


def _money_faults(plan: JobPlan, actual: JobActual) -> Iterator[Fault]:
    for name in _ACTUAL_AMOUNTS:
        value = getattr(actual, name)
        if value is not None:
            yield from _amount_faults((name,), value, plan)
    if actual.labour_rate is not None:
        yield from _negative(("labour_rate",), actual.labour_rate)
    sold = plan.sold_price if actual.sold_price is None else actual.sold_price
    charged = actual.shipping_charged
    paid = sold + (plan.shipping_charged if charged is None else charged)
    if actual.tax is not None and actual.tax > paid:
        yield Fault(
            ("tax",),
            f"a tax of {actual.tax} is more than the {paid} that the buyer paid for "
            "goods and shipping; give the tax that is inside them",
        )


def _log_faults(plan: JobPlan, actual: JobActual) -> Iterator[Fault]:
    for i, coins in enumerate(actual.coins):
        yield from _coin_faults(("coins", i), coins, plan)
    for i, attempt in enumerate(actual.attempts):
        yield from _attempt_faults(("attempts", i), attempt, plan)
    for i, line in enumerate(plan.lines):
        count = sum(each.count for each in actual.coins if each.line == i)
        tried = sum(1 for each in actual.attempts if each.line == i)
        if 0 < count < tried:
            taken = "1 coin" if count == 1 else f"{count} coins"
            yield Fault(
                ("coins",),
                f"{taken} cannot have been put to work {tried} times "
                f"({line.coin_name}); every attempt takes a coin, so name them all "
                "with what they cost, or leave the coins out",
            )


def _coin_faults(path: Path, coins: CoinsUsed, plan: JobPlan) -> Iterator[Fault]:
    yield from _unknown_line(path, coins.line, plan)
    if coins.count < 1:
        yield Fault((*path, "count"), f"{coins.count} coins; give 1 or more")
    yield from _negative((*path, "unit_cost"), coins.unit_cost)


def _attempt_faults(path: Path, attempt: Attempt, plan: JobPlan) -> Iterator[Fault]:
    unknown = tuple(_unknown_line(path, attempt.line, plan))
    if unknown:
        yield from unknown
        return
    keys = [stage.key for stage in plan.lines[attempt.line].stages]
    yield from _outcome_faults(path, attempt, keys)
    for key, minutes in attempt.minutes.items():
        yield from _unknown_stage((*path, "minutes", key), key, keys)
        yield from _negative((*path, "minutes", key), minutes)
    for key, visits in attempt.visits.items():
        yield from _unknown_stage((*path, "visits", key), key, keys)
        if visits < 1:
            yield Fault(
                (*path, "visits", key),
                f"{visits} visits; give 1 or more, or leave a stage out that the "
                "piece did not come to",
            )
    for name in _MASSES:
        mass = getattr(attempt, name)
        if mass is not None and mass <= ZERO:
            yield Fault((*path, name), f"{mass} g; give what the scale showed, over 0")


def _outcome_faults(path: Path, attempt: Attempt, keys: list[str]) -> Iterator[Fault]:
    if attempt.outcome not in OUTCOMES:
        yield Fault(
            (*path, "outcome"),
            f"'{attempt.outcome}' is no outcome; write {' or '.join(OUTCOMES)}",
        )
    elif attempt.outcome == "good" and attempt.stage is not None:
        yield Fault(
            (*path, "stage"),
            f"a good ring was not scrapped at '{attempt.stage}'; leave the stage out "
            "or call the attempt scrapped",
        )
    elif attempt.outcome == "scrapped" and attempt.stage is None:
        yield Fault(
            (*path, "stage"),
            f"a scrapped attempt needs the stage that scrapped it: {_listed(keys)}",
        )
    elif attempt.stage is not None:
        yield from _unknown_stage((*path, "stage"), attempt.stage, keys)


def _unknown_line(path: Path, line: int, plan: JobPlan) -> Iterator[Fault]:
    if not 0 <= line < len(plan.lines):
        yield Fault(
            (*path, "line"),
            f"the job has no line {line}; its lines go from 0 to "
            f"{len(plan.lines) - 1}, counted from 0",
        )


def _unknown_stage(path: Path, key: str, keys: list[str]) -> Iterator[Fault]:
    if key not in keys:
        yield Fault(path, f"the plan has no stage '{key}'; it has: {_listed(keys)}")


def _listed(keys: list[str]) -> str:
    return ", ".join(keys) or "none"


def _negative(path: Path, value: Decimal) -> Iterator[Fault]:
    if value < ZERO:
        yield Fault(path, f"{value} is under nothing; give 0 or more")


def _amount_faults(path: Path, value: Decimal, plan: JobPlan) -> Iterator[Fault]:
    yield from _negative(path, value)
    if value != money.amount(value, plan.currency):
        yield Fault(
            path,
            f"{value} is no amount in {plan.currency.code}; give whole steps of "
            f"{plan.currency.step:f}",
        )
