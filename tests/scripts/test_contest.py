"""The measuring itself; what is measured is not a test's business."""

from __future__ import annotations

import time

import pytest

from tests.benchmarks.contest import Entry, contest


def spend(seconds):
    end = time.perf_counter() + seconds
    while time.perf_counter() < end:
        pass


def test_entries_are_told_against_the_first(capsys, monkeypatch):
    monkeypatch.setattr("tests.benchmarks.contest.SLICE_S", 0.002)
    fast = Entry("fast", lambda: spend(0.0002))
    slow = Entry("slow", lambda: spend(0.002), units=2)
    contest("A contest", [fast, slow], rounds=6)
    lines = capsys.readouterr().out.splitlines()
    assert lines[1] == "A contest"
    assert lines[3].split()[-1] == "1.00"
    assert float(lines[4].split()[-1]) == pytest.approx(5, rel=0.5)
