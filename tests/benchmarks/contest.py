"""Entries measured side by side: a bit of each in turn, until time is up."""

from __future__ import annotations

import gc
import time
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field
from statistics import median, quantiles

SLICE_S = 0.05
ROUNDS = 40


@dataclass
class Entry:
    """One way of doing the work.

    Attributes:
        name: what is measured.
        work: does it once, or as many times as ``units`` says.
        units: pieces of work in one call [count].
        seconds: time of one piece in each round [s].
    """

    name: str
    work: Callable[[], object]
    units: int = 1
    seconds: list[float] = field(default_factory=list)

    def measure(self) -> None:
        """Work for a slice of time and note the mean of a piece."""
        calls, begun = 0, time.perf_counter()
        while (spent := time.perf_counter() - begun) < SLICE_S or not calls:
            self.work()
            calls += 1
        self.seconds.append(spent / calls / self.units)


def contest(title: str, entries: Sequence[Entry], rounds: int = ROUNDS) -> None:
    """Measure the entries in turn and print them against the first."""
    for entry in entries:
        entry.work()  # warm
    gc.collect()
    for turn in range(rounds):
        for entry in entries if turn % 2 else reversed(entries):
            entry.measure()
    first = median(entries[0].seconds)
    rows = [
        (
            entry.name,
            f"{median(entry.seconds) * 1e6:,.1f}",
            "{:,.1f} to {:,.1f}".format(*(s * 1e6 for s in middle(entry.seconds))),
            f"{median(entry.seconds) / first:,.2f}",
        )
        for entry in entries
    ]
    table(title, ("", "median µs", "middle 80 %", "x first"), rows)


def middle(values: Sequence[float]) -> tuple[float, float]:
    """The bounds between which four of five values lie."""
    tenths = quantiles(values, n=10, method="inclusive")
    return tenths[0], tenths[-1]


def table(title: str, headings: Sequence[str], rows: Iterable[Sequence[str]]) -> None:
    """Print rows in columns, figures at the right."""
    lines = [headings, *rows]
    widths = [max(map(len, column)) for column in zip(*lines, strict=True)]
    print(f"\n{title}")
    for name, *figures in lines:
        cells = [f.rjust(w) for f, w in zip(figures, widths[1:], strict=True)]
        print("  " + "  ".join([name.ljust(widths[0]), *cells]), flush=True)
