"""Prices come into force and go whole when the process is killed at any point.

As elsewhere it shows process crashes only; power failures rest on `synchronous`.
"""

from __future__ import annotations

import pytest

from tests.contract.killing import report_of
from tests.thoroughness import thorough

KILLS = thorough(quick=12, full=100)


@pytest.mark.slow
def test_an_apply_or_undo_that_is_killed_is_in_force_as_a_whole_or_not_at_all(tmp_path):
    report = report_of("repricing_crash_worker.py", tmp_path, KILLS, "7")
    assert report["faults"] == []
    killed_in = report["killed_in"]
    assert sum(killed_in.values()) == KILLS
    assert min(killed_in[kind] for kind in ("apply", "undo")) >= KILLS // 4
    # Killed before and after the switch, and amid the chunks before it.
    assert {"applying", "applied", "undone"} <= {*report["left"]}
    assert all(report["acknowledged"].values())
