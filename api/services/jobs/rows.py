"""Rows of a CSV file as a bench log: one row an attempt, or what is so of a job."""

from __future__ import annotations

import hashlib
import re
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from typing import Any

from api.ports.jobs import LoggedCoins
from api.services.csv_cells import Unreadable, text_in
from api.services.csv_table import CsvForm, DecimalMark, Row, RowFault, Table
from api.services.jobs.cells import Cells, moment, whole
from api.services.jobs.terms import AttemptAsk
from pricing.margin_check.actual import MONEY

OF_ATTEMPTS = ("attempt", "line", "outcome", "stage", "slug_g", "bored_g", "finished_g")
OF_COINS = ("coins", "coin_cost")
OF_NEW = ("sku", "size", "quantity")
COLUMNS = ("job", *OF_NEW, *OF_ATTEMPTS, "note", *OF_COINS, "completed_at", *MONEY)
"""Every column but those of stages, which are minutes:KEY and visits:KEY."""
NEEDED = ("job",)
STAGED = re.compile(r"(minutes|visits):([a-z0-9][a-z0-9_]{0,63})", re.ASCII)
_MASSES = ("slug_g", "bored_g", "finished_g")
_FIGURES = frozenset({*_MASSES, "coin_cost", "size", *MONEY})
_COUNTS = frozenset({"line", "coins", "quantity"})
_SAID = frozenset({*OF_NEW, "completed_at", *MONEY})

Entry = str


@dataclass(frozen=True, slots=True, kw_only=True)
class AttemptRow:
    """An attempt, the row that tells of it, and by what it is known again."""

    row: int
    entry: Entry
    ask: AttemptAsk


@dataclass(frozen=True, slots=True, kw_only=True)
class CoinsRow:
    """Coins taken, and the row that tells of them."""

    row: int
    coins: LoggedCoins


@dataclass(slots=True, kw_only=True)
class Draft:
    """What a file says of one job.

    Attributes:
        name: what the file calls it.
        rows: numbers of its rows.
        said: what is so of the whole job, by column; ``where`` the row that says it.
    """

    name: str
    rows: list[int] = field(default_factory=list)
    said: dict[str, Any] = field(default_factory=dict)
    where: dict[str, int] = field(default_factory=dict)
    attempts: list[AttemptRow] = field(default_factory=list)
    coins: list[CoinsRow] = field(default_factory=list)
    _seen: Counter[str] = field(default_factory=Counter)

    def entry(self, name: str, said: str) -> Entry:
        """By what a row is known again: its name, or what it says and how often."""
        if name:
            return name if name.startswith("#") else f"={name}"
        digest = hashlib.sha256(said.encode()).hexdigest()[:32]
        self._seen[digest] += 1
        return f"{digest}.{self._seen[digest]}"


def by_name(entry: Entry) -> bool:
    """Whether a row is known by a name or number, and not by what it says."""
    return entry.startswith(("=", "#"))


def known_columns(headings: Sequence[str], form: CsvForm) -> tuple[str, ...]:
    """Our columns, with those of stages that are there or are mapped."""
    staged = (name for name in (*headings, *form.columns) if STAGED.fullmatch(name))
    return (*COLUMNS, *dict.fromkeys(staged))


def drafts_of(table: Table, decimal: DecimalMark) -> tuple[list[Draft], list[RowFault]]:
    """What a table says of each job, and what of it cannot be read."""
    drafts: dict[str, Draft] = {}
    faults: list[RowFault] = []
    read = _Rows(table, Cells(decimal))
    for row in table.rows:
        cells, found = read.cells(row)
        faults += found
        if found:
            continue
        name = cells.pop("job")
        draft = drafts.get(name)
        if draft is None:
            draft = drafts[name] = Draft(name=name)
        draft.rows.append(row.number)
        faults += read.into(draft, row.number, cells)
    return list(drafts.values()), faults


class _Rows:
    """The rows of one table."""

    def __init__(self, table: Table, cells: Cells) -> None:
        self._headings = table.headings
        self._read = {name: _reader(name, cells) for name in table.headings}
        self._in_order = sorted(table.headings)
        self._staged = {
            name: (found[1], found[2])
            for name in table.headings
            if (found := STAGED.fullmatch(name))
        }

    def cells(self, row: Row) -> tuple[dict[str, Any], list[RowFault]]:
        """What the cells of a row say, empty ones apart, and what cannot be read."""
        cells: dict[str, Any] = {}
        faults = []
        for name, cell in row.cells.items():
            if cell:
                try:
                    cells[name] = self._read[name](cell)
                except Unreadable as error:
                    heading = self._headings[name]
                    faults.append(RowFault(row.number, heading, str(error)))
        if not cells.get("job"):
            said = "this is empty; write the job's number, or what you call it"
            faults.append(RowFault(row.number, self._headings["job"], said))
        return cells, faults

    def into(self, draft: Draft, row: int, cells: dict[str, Any]) -> Iterator[RowFault]:
        """Add what a row says to a job; what does not fit is told."""
        yield from self._say(draft, row, cells)
        told = {name: value for name, value in cells.items() if name not in _SAID}
        if not told:
            return
        name, line = told.pop("attempt", ""), told.pop("line", 1)
        if line < 1:
            yield self._fault(row, "line", "lines are counted from 1")
            return
        entry = draft.entry(name, self._spelled(line, told))
        coins, cost = told.pop("coins", None), told.pop("coin_cost", None)
        if coins is not None or cost is not None:
            yield from self._take(draft, row, entry, (line, coins, cost))
        if told or (name and coins is None and cost is None):
            yield from self._attempt(draft, row, entry, (line, told))

    def _spelled(self, line: int, told: Mapping[str, Any]) -> str:
        """What a row says, however its columns stand and its figures are written."""
        said = [name + "=" + str(told[name]) for name in self._in_order if name in told]
        return "\x1f".join((str(line), *said))

    def _say(
        self, draft: Draft, row: int, cells: Mapping[str, Any]
    ) -> Iterator[RowFault]:
        for name in cells.keys() & _SAID:
            if draft.said.setdefault(name, cells[name]) != cells[name]:
                said = (
                    f"row {draft.where[name]} says something else of "
                    f"'{draft.name[:64]}'; say it once, or the same in every row"
                )
                yield self._fault(row, name, said)
            draft.where.setdefault(name, row)

    def _take(
        self,
        draft: Draft,
        row: int,
        entry: Entry,
        told: tuple[int, int | None, Decimal | None],
    ) -> Iterator[RowFault]:
        line, count, cost = told
        if cost is None:
            yield self._fault(row, "coins", "say what each cost, in coin_cost")
            return
        taken = LoggedCoins(
            line=line - 1, count=1 if count is None else count, unit_cost=cost,
            entry=entry,
        )  # fmt: skip
        draft.coins.append(CoinsRow(row=row, coins=taken))

    def _attempt(
        self, draft: Draft, row: int, entry: Entry, told: tuple[int, dict[str, Any]]
    ) -> Iterator[RowFault]:
        line, cells = told
        outcome = cells.get("outcome", "")
        if outcome not in {"good", "scrapped"}:
            said = "say how the attempt ended: good or scrapped"
            yield self._fault(row, "outcome", said)
            return
        minutes: dict[str, Decimal] = {}
        visits: dict[str, int] = {}
        for name, (what, stage) in self._staged.items():
            if name in cells:
                (minutes if what == "minutes" else visits)[stage] = cells[name]
        ask = AttemptAsk(
            line=line - 1,
            outcome=outcome,
            stage=cells.get("stage"),
            minutes=minutes,
            visits=visits,
            note=cells.get("note", ""),
            **{name: cells.get(name) for name in _MASSES},
        )
        draft.attempts.append(AttemptRow(row=row, entry=entry, ask=ask))

    def _fault(self, row: int, name: str, said: str) -> RowFault:
        return RowFault(row, self._headings.get(name, ""), said)


def _reader(name: str, cells: Cells) -> Any:
    """What reads the cells of a column."""
    if name in _FIGURES or name.startswith("minutes:"):
        return cells.figure
    if name in _COUNTS or name.startswith("visits:"):
        return whole
    return moment if name == "completed_at" else text_in
