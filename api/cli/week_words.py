"""A margin check in words, for the maker at a terminal."""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal

from api.cli.output import counted, facts, table
from api.cli.week_proposal_words import proposal_table, window_asked
from api.ports.margin_checks import JobSums
from api.services.jobs.document import in_unit
from api.services.margin_checks.check import MarginCheck, hourly
from api.services.margin_checks.flags import PART_WORDS, headline
from pricing import money

_MINUTE = Decimal(1)
_TENTH = Decimal("0.1")


def whole(check: MarginCheck) -> str:
    """All of a check; its first line says it in short."""
    return "\n\n".join(filter(None, (headline(check), *_told(check))))


def _told(check: MarginCheck) -> Iterator[str]:
    if check.flags:
        yield flag_words(check)
    if check.sums.jobs:
        yield _totals(check)
        yield bridge_words(check)
        yield _coins(check)
        yield _jobs(check)
    yield _stages(check)
    yield promise_words(check)
    yield _trend(check)
    if check.proposals:
        yield f"The bench proposes:\n\n{proposal_table(check.proposals)}"
        if check.week is not None:
            asked = f"{check.week}{window_asked(check)}"
            yield f"What that does to prices: fineweight week proposals {asked}"
    if check.other_currencies:
        yield f"Jobs left out, in other currencies: {check.other_currencies}"


def flag_words(check: MarginCheck) -> str:
    """What needs attention."""
    rows = [(x.code.replace("_", " "), x.title, x.evidence) for x in check.flags]
    return table(("attention", "what", "evidence"), rows)


def _totals(check: MarginCheck) -> str:
    sums, unit = check.sums, check.currency
    pairs = (
        ("revenue", sums.planned_revenue, sums.revenue),
        ("cost", sums.planned_cost, sums.cost),
        ("margin", sums.planned_margin, sums.margin),
    )
    rows: list[tuple[object, ...]] = [
        (name, in_unit(a, unit), in_unit(b, unit), _signed(b - a, check))
        for name, a, b in pairs
    ]
    planned, made = (
        money.half_up(x, _TENTH) for x in (sums.planned_minutes, sums.minutes)
    )
    rows.append(("minutes", planned, made, _with_sign(made - planned)))
    earned = hourly(sums, unit)
    said = "" if earned is None else f"\n\nAn hour at the bench earned {earned}."
    return table((unit.code, "planned", "realised", ""), rows, right=" rrr") + said


def bridge_words(check: MarginCheck) -> str:
    """What leads from the planned to the realised margin."""
    sums = check.sums
    rows = [
        ("planned margin", in_unit(sums.planned_margin, check.currency)),
        *((PART_WORDS[x], _signed(y, check)) for x, y in sums.parts.items() if y),
        ("realised margin", in_unit(sums.margin, check.currency)),
    ]
    return table(("from planned to realised", check.currency.code), rows, right=" r")


def _coins(check: MarginCheck) -> str:
    rows = [
        (
            each.coin_name,
            each.pieces,
            money.shown(each.coins_planned, Decimal("0.1")),
            money.shown(each.coins_used, Decimal("0.1")),
            in_unit(each.planned_margin, check.currency),
            in_unit(each.margin, check.currency),
            _signed(each.margin - each.planned_margin, check),
        )
        for each in check.coins
    ]
    head = ("coin", "pieces", "planned", "used", "planned", "margin", "")
    return table(head, rows, right=" rrrrrr")


def _jobs(check: MarginCheck) -> str:
    rows = [
        (
            each.number,
            each.title,
            in_unit(each.planned_margin, check.currency),
            in_unit(each.margin, check.currency),
            _signed(each.margin - each.planned_margin, check),
            f"under the floor: {PART_WORDS[each.cause or 'plan']}"
            if each.under_floor
            else "",
        )
        for each in check.jobs
    ]
    left = check.jobs_left_out
    if not rows:
        return f"{counted(left, 'job is', 'jobs are')} not listed"
    shown = table(("job", "", "planned", "margin", "", ""), rows, right="  rrr")
    return f"{shown}\nand {left} more that lost less" if left > 0 else shown


def _stages(check: MarginCheck) -> str:
    """What the window says of every stage; the line is short where it says nothing."""
    rows = [
        (
            each.evidence.title,
            each.evidence.tried,
            each.evidence.failed,
            each.evidence.timed,
            _minutes(each.evidence.planned_minutes),
            _minutes(each.evidence.minutes),
            ", ".join(f"{said.kind} {_verdict(said)}" for said in each.judgements)
            or "as the book says",
        )
        for each in check.judged
    ]
    head = ("stage", "tried", "scrapped", "timed", "min planned", "min", "")
    shown = table(head, rows, right=" rrrrr")
    days = f"{check.window.first} to {check.window.last}"
    return f"Stages, judged by the jobs of {days}:\n\n{shown}"


def _verdict(said: object) -> str:
    return "differs" if hasattr(said, "observed") else "too few to say"


def promise_words(check: MarginCheck) -> str:
    """What is promised and not made yet."""
    found = check.promises
    if not found.quotes:
        return "Nothing is promised that is not made yet."
    return facts(
        {
            "promised": f"{counted(found.quotes, 'quote', 'quotes')}, "
            f"{found.accepted} accepted",
            "coins": f"{found.coins} to be started",
            "silver": f"{found.fine_ozt} ozt still to be bought",
            "spot +1": f"{_signed(found.per_unit_of_spot, check)} "
            f"{check.currency.code} of their margin",
            "left out": f"{found.left_out} quotes" if found.left_out else None,
        }
    )


def _trend(check: MarginCheck) -> str:
    rows = [_week(each, check) for each in check.trend if each.jobs]
    head = ("week", "jobs", "planned", "margin", "", "an hour")
    return table(head, rows, right=" rrrrr") if rows else ""


def _week(sums: JobSums, check: MarginCheck) -> tuple[object, ...]:
    return (
        sums.week,
        sums.jobs,
        in_unit(sums.planned_margin, check.currency),
        in_unit(sums.margin, check.currency),
        _signed(sums.margin - sums.planned_margin, check),
        hourly(sums, check.currency),
    )


def _minutes(value: Decimal) -> str:
    return money.shown(value, _MINUTE)


def _signed(value: Decimal, check: MarginCheck) -> str:
    return _with_sign(in_unit(value, check.currency))


def _with_sign(figure: Decimal) -> str:
    return f"{figure:+f}" if figure else f"{figure:f}"
