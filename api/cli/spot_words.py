"""Prices of silver and of currencies in words, for people at a terminal."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Iterator
from decimal import Decimal

from api.cli.output import facts, instant, table
from api.ports import MANUAL, FetchResult, SpotEntry
from api.services.spot.standing import Standing
from pricing.money import tidy, trimmed
from pricing.spot import Spot
from pricing.spot_guard import Finding

SILVER = "XAG"
WIDTH = 79
LONG_HOURS = 48
"""An age that is told in days from here on [h]."""
STATES = {
    "fresh": "good to price with",
    "old": "old: estimates warn of it",
    "stale": "stale: nothing is priced with it",
}


def price(priced: Spot | SpotEntry) -> str:
    """The price with what it is for."""
    figure = f"{tidy(priced.price):f} {priced.currency}"
    return f"{figure} a troy ounce" if priced.metal == SILVER else figure


def thing(metal: str) -> str:
    """What is priced, as a sentence begins with it."""
    return "Silver" if metal == SILVER else f"One {metal}"


def age(hours: Decimal) -> str:
    """An age as a person says it.

    >>> age(Decimal("0.5")), age(Decimal("3.0")), age(Decimal("74.2"))
    ('30 minutes', '3 hours', '3 days and 2 hours')
    """
    if hours < Decimal("0.1"):
        return "just now"
    if hours < 1:
        return _count(int(hours * 60), "minute")
    if hours < LONG_HOURS:
        return "1 hour" if hours == 1 else f"{trimmed(hours)} hours"
    days, rest = divmod(int(hours), 24)
    return _count(days, "day") + (f" and {_count(rest, 'hour')}" if rest else "")


def _count(number: int, word: str) -> str:
    return f"{number} {word}{'' if number == 1 else 's'}"


def origin(source: str) -> str:
    """Where a price came from."""
    return "entered by hand" if source == MANUAL else f"feed '{source}'"


def standing(found: Standing) -> str:
    """All that is to be said of the price in force."""
    spot, waiting = found.spot, found.waiting
    told = {
        "silver" if spot.metal == SILVER else f"one {spot.metal}": price(spot),
        "as of": instant(spot.as_of),
        "age": _ages(found),
        "source": origin(spot.source),
        "expires": instant(found.expires_at),
        "state": STATES[found.staleness],
        "waiting": f"{_count(waiting, 'held price')} to decide: fineweight spot show "
        "--status held"
        if waiting
        else None,
    }
    return "\n".join([facts(told), *_wrapped(found.said)])


def _ages(found: Standing) -> str:
    hours = found.spot.age_hours
    words = "" if hours is None else age(hours)
    if found.open_hours is None or found.open_hours == hours:
        return words
    return f"{words} ({trimmed(found.open_hours)} hours of open market)"


def history(entries: Iterable[SpotEntry]) -> str:
    """Entries in a table, and below it why the held ones are held."""
    entries = tuple(entries)
    rows = [
        (
            entry.id,
            instant(entry.as_of),
            tidy(entry.price),
            entry.currency,
            entry.source,
            entry.status,
            instant(entry.expires_at),
            entry.note,
        )
        for entry in entries
    ]
    headings = ("id", "as of", "price", "in", "source", "status", "expires", "note")
    lines = [table(headings, rows, right="r r")]
    for entry in entries:
        if entry.status == "held":
            lines += ["", f"Entry {entry.id} waits, because:", *reasons(entry.reasons)]
            lines += [f"  Decide: {_decide(entry.id)}"]
    return "\n".join(lines)


def result(found: FetchResult) -> str:
    """What one price of one feed became, and why."""
    said, entry = "", found.entry_id
    if found.price is not None and found.as_of is not None:
        said = f"{tidy(found.price):f} {found.currency} of {instant(found.as_of)} "
    lines = [f"{found.feed}: {said}{_became(found)}", *reasons(found.findings)]
    if found.outcome == "held" and entry is not None:
        lines += [f"  Decide: {_decide(entry)}"]
    return "\n".join(lines)


def _became(found: FetchResult) -> str:
    entry = found.entry_id
    if entry is None:
        return {
            "accepted": "would count",
            "held": "would be held for you to decide",
            "refused": "is refused",
            "ignored": "brings nothing new",
            "failed": "nothing could be read",
        }[found.outcome]
    if found.outcome == "held":
        return f"is held as entry {entry}"
    return f"counts, as entry {entry}"


def _decide(entry_id: int) -> str:
    return f"fineweight spot accept {entry_id}, or: fineweight spot reject {entry_id}"


def reasons(findings: Iterable[Finding]) -> list[str]:
    """Each finding as lines of their own."""
    return _wrapped(finding.text for finding in findings)


def _wrapped(texts: Iterable[str]) -> list[str]:
    return [line for text in texts for line in _lines(text)]


def _lines(text: str) -> Iterator[str]:
    yield from textwrap.wrap(
        text, WIDTH, initial_indent="  - ", subsequent_indent="    "
    )
