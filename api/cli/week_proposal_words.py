"""Proposed standards in words, for the maker at a terminal."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from api.cli.output import counted, table
from api.services.jobs.document import in_unit
from api.services.margin_checks.check import MarginCheck
from api.services.margin_checks.proposals import Accepted, Effect, Proposed
from api.services.margin_checks.spans import WEEKS_JUDGED
from pricing.margin_check.proposal import Proposal
from pricing.money import Currency


def proposed_words(proposed: Proposed) -> str:
    """What is proposed, and what all of it together would do."""
    check = proposed.check
    if not proposed.proposals:
        return f"{check.name}: nothing is proposed"
    rows = [each.proposal for each in proposed.proposals]
    found = counted(len(rows), "new standard", "new standards")
    days = f"{check.window.first} to {check.window.last}"
    told = [
        f"{check.name}: {found} by the jobs of {days}",
        proposal_table(rows),
        *_together(proposed.together, check.currency),
        _how_to_accept(check),
    ]
    return "\n\n".join(told)


def _how_to_accept(check: MarginCheck) -> str:
    """The commands that take these very proposals, whatever week it is by then."""
    accept = f"fineweight week accept --week {check.week}{window_asked(check)}"
    return f"Accept some:  {accept} PATH...\nAccept all:   {accept} --all"


def window_asked(check: MarginCheck) -> str:
    """The option that asks for the weeks of a check; nothing for the usual ones."""
    days = check.window.last - check.window.first
    weeks = (days.days + 1) // 7
    return "" if weeks == WEEKS_JUDGED else f" --window-weeks {weeks}"


def proposal_table(proposals: Sequence[Proposal]) -> str:
    """One line a proposal."""
    rows = [(x.dotted, x.current, x.proposed, x.n) for x in proposals]
    return table(("path", "price book", "bench", "n"), rows, right="   r")


def _together(effects: Sequence[Effect], unit: Currency) -> Iterator[str]:
    if not effects:
        return
    amounts = ("cost", "new_cost", "price", "new_price")
    rows = []
    for each in effects:
        found = [getattr(each, name) for name in amounts]
        shown = [None if x is None else in_unit(x, unit) for x in found]
        rows.append((each.coin_name, each.size.label, *shown))
    head = ("ring", "size", "cost", "then", "price", "then")
    yield f"All of them together, {unit.code} a piece at the spot in force:"
    yield table(head, rows, right="  rrrr")


def accepted_words(accepted: Accepted) -> str:
    """That they are in the book."""
    named = ", ".join(each.dotted for each in accepted.proposals)
    return f"Price book version {accepted.book_version} has {named}."
