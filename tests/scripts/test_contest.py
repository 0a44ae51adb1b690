"""The measuring itself, by a clock that only the work moves."""

from __future__ import annotations

import pytest

from tests.benchmarks import contest as measuring
from tests.benchmarks.contest import Entry, contest


class Clock:
    """Stands still but for what is spent."""

    def __init__(self):
        self.seconds = 0.0

    def perf_counter(self):
        return self.seconds

    def spend(self, seconds):
        self.seconds += seconds


@pytest.fixture
def clock(monkeypatch):
    found = Clock()
    monkeypatch.setattr(measuring, "time", found)
    return found


def test_entries_are_told_against_the_first(capsys, clock):
    fast = Entry("fast", lambda: clock.spend(0.0002))
    slow = Entry("slow", lambda: clock.spend(0.002), units=2)
    contest("A contest", [fast, slow], rounds=6)
    lines = capsys.readouterr().out.splitlines()
    assert lines[1] == "A contest"
    assert lines[3].split()[-1] == "1.00"
    assert lines[4].split()[-1] == "5.00"
