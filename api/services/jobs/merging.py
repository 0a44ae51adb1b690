"""One job of a file brought together with what is written down for it already."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, fields, replace
from datetime import datetime

from api.ports import Conflict
from api.ports.jobs import Job, JobLog, LoggedAttempt, LoggedCoins, Worked
from api.services.actor import actor
from api.services.csv_table import RowFault
from api.services.jobs.checks import figure_faults, log_faults
from api.services.jobs.plan import plan_members, plan_outline
from api.services.jobs.result import completed
from api.services.jobs.rows import AttemptRow, CoinsRow, Draft, by_name
from api.services.jobs.terms import (
    AttemptAsk,
    moment_of,
    money_text,
    read_money,
)
from api.services.jobs.writing import refuse_unfinished
from pricing.errors import Fault, InvalidInput
from pricing.margin_check.actual import MONEY, JobMoney
from pricing.price_book import PriceBook

_ASKED = tuple(each.name for each in fields(AttemptAsk))
_COLUMNS = {"count": "coins", "unit_cost": "coin_cost"}


@dataclass(slots=True, kw_only=True)
class Merged:
    """What becomes of one job.

    Attributes:
        draft: what the file says of it.
        job: as it will be; without a number where it is opened.
        old: as it is; None where it is opened.
        attempts, coins: all of them, as they will be.
        added, replaced: attempts that are new or other than they were.
        rows: of the attempts of the file, by their place in ``attempts``.
        worked: what it came to, where the file completes it.
        members: what else is new.
        faults: what is wrong with it.
    """

    draft: Draft
    job: Job
    old: Job | None
    attempts: list[LoggedAttempt]
    coins: list[LoggedCoins]
    added: list[LoggedAttempt] = field(default_factory=list)
    replaced: list[LoggedAttempt] = field(default_factory=list)
    rows: dict[int, int] = field(default_factory=dict)
    coin_rows: dict[int, int] = field(default_factory=dict)
    worked: Worked | None = None
    members: tuple[str, ...] = ()
    faults: list[RowFault] = field(default_factory=list)

    @property
    def changes(self) -> bool:
        """Whether anything of it is new."""
        more = self.added or self.replaced or self.members or self.worked
        return self.old is None or bool(more)


@dataclass(frozen=True, slots=True, kw_only=True)
class Ground:
    """What a file is read against: the book, the moment, the file's headings."""

    book: PriceBook
    at: datetime
    headings: Mapping[str, str]


def merged(draft: Draft, job: Job, log: JobLog, ground: Ground) -> Merged:
    """What becomes of a job; ``job.seq`` is 0 where it is opened."""
    found = Merged(
        draft=draft,
        job=job,
        old=job if job.seq else None,
        attempts=list(log.attempts),
        coins=list(log.coins),
    )
    found.faults += _add_attempts(found, ground.at)
    found.faults += _add_coins(found)
    money = _add_money(found)
    if found.faults:
        return found
    if job.status == "completed":
        found.faults += _refuse_completed(found, ground)
        return found
    said = draft.said.get("completed_at")
    found.faults += _soundness(found, money, ground, whole=said is None)
    if said is not None and not found.faults:
        done = moment_of(said, ground.book, now=ground.at)
        found.faults += _complete(found, log, done, ground)
    return found


def _add_attempts(found: Merged, at: datetime) -> Iterator[RowFault]:
    there = {each.entry or "": place for place, each in enumerate(found.attempts)}
    there |= {f"#{each.n}": place for place, each in enumerate(found.attempts)}
    last = max((each.n for each in found.attempts), default=0)
    told: dict[str | int, int] = {}
    for row in found.draft.attempts:
        place = there.get(row.entry)
        first = told.setdefault(_key(row.entry, place), row.row)
        if first != row.row:
            yield _twice(row, first)
            continue
        if place is None and row.entry.startswith("#"):
            yield RowFault(row.row, "", f"the job has no attempt {row.entry[1:][:12]}")
            continue
        if place is None:
            last += 1
            new = row.ask.logged(last, at, row.entry)
            found.rows[len(found.attempts)] = row.row
            found.attempts.append(new)
            found.added.append(new)
            continue
        found.rows[place] = row.row
        old = found.attempts[place]
        # A row that says what it said before leaves what was corrected by hand.
        if by_name(row.entry) and any(
            getattr(old, name) != getattr(row.ask, name) for name in _ASKED
        ):
            new = row.ask.logged(old.n, old.at, old.entry)
            found.attempts[place] = new
            found.replaced.append(new)


def _key(entry: str, place: int | None) -> str | int:
    """What only one row may tell of; one that is known by what it says leaves it."""
    return entry if place is None or not by_name(entry) else place


def _twice(row: AttemptRow | CoinsRow, first: int) -> RowFault:
    return RowFault(row.row, "", f"row {first} tells of this one already")


def _add_coins(found: Merged) -> Iterator[RowFault]:
    there = {each.entry or "": place for place, each in enumerate(found.coins)}
    there |= {f"#c{n}": n - 1 for n in range(1, len(found.coins) + 1)}
    before = list(found.coins)
    told: dict[str | int, int] = {}
    for row in found.draft.coins:
        entry = row.coins.entry or ""
        place = there.get(entry)
        first = told.setdefault(_key(entry, place), row.row)
        if first != row.row:
            yield _twice(row, first)
        elif place is None and entry.startswith("#"):
            yield RowFault(row.row, "", f"the job has no coins {entry[1:][:12]}")
        elif place is None:
            found.coin_rows[len(found.coins)] = row.row
            found.coins.append(row.coins)
        else:
            found.coin_rows[place] = row.row
            if by_name(entry):
                found.coins[place] = replace(row.coins, entry=before[place].entry)
    if found.coins != before:
        found.members += ("coins",)


def _add_money(found: Merged) -> JobMoney:
    before = read_money(found.job.money)
    said = {name: found.draft.said[name] for name in MONEY if name in found.draft.said}
    after = replace(before, **said)
    if after != before:
        found.job = replace(found.job, money=money_text(after))
        found.members += tuple(
            name for name in said if getattr(before, name) != said[name]
        )
    return after


def _refuse_completed(found: Merged, ground: Ground) -> Iterator[RowFault]:
    """What a file may not change: what was worked out already."""
    job, said = found.job, found.draft.said.get("completed_at")
    same = said in {None, job.completed_at, job.completed_day}
    if found.changes or not same:
        row, heading = found.draft.rows[0], ground.headings["job"]
        yield RowFault(
            row,
            heading,
            f"job {job.number} is completed and the file says something else of it; "
            "reopen it first",
        )


def _soundness(
    found: Merged, money: JobMoney, ground: Ground, *, whole: bool
) -> Iterator[RowFault]:
    """What cannot be; held against the plan only ``whole``, or on completion."""
    faults = figure_faults(money, found.coins, found.attempts)
    if whole:
        plan = plan_outline(found.job.plan)
        faults = log_faults(plan, money, found.coins, found.attempts)
    for fault in faults:
        yield _placed(found, fault, ground)


def _placed(found: Merged, fault: Fault, ground: Ground) -> RowFault:
    """Where in the file a fault of a job is."""
    row, name, said = found.draft.rows[0], "", fault.message
    match fault.path:
        case [("attempts" | "coins") as what, int(place), *inner]:
            rows = found.rows if what == "attempts" else found.coin_rows
            row, name = rows.get(place, row), ":".join(map(str, inner))
            if name == "line":
                said = _no_line(found, getattr(found, what)[place].line)
        case [str(member)]:
            row, name = found.draft.where.get(member, row), member
    return RowFault(row, ground.headings.get(_COLUMNS.get(name, name), ""), said)


def _no_line(found: Merged, line: int) -> str:
    """That the job has no such line, counted from 1 as in files."""
    lines = len(plan_members(found.job.plan)["lines"])
    return f"the job has no line {line + 1}; its lines go from 1 to {lines}"


def _complete(
    found: Merged, log: JobLog, done: datetime, ground: Ground
) -> Iterator[RowFault]:
    row = found.draft.where["completed_at"]
    heading = ground.headings["completed_at"]
    if done > ground.at:
        yield RowFault(row, heading, "this is still to come")
        return
    whole = JobLog(
        attempts=tuple(found.attempts), coins=tuple(found.coins), timer=log.timer
    )
    try:
        refuse_unfinished(found.job, whole)
        found.worked = completed(
            found.job, whole, at=done, by=actor().by, book=ground.book
        )
    except Conflict as error:
        yield RowFault(row, heading, error.message)
    except InvalidInput as error:
        for fault in error.faults:
            yield _placed(found, fault, ground)
    else:
        found.job = found.worked.job
