"""Prices come into force and go whole when the process is killed at any point.

As elsewhere it shows process crashes only; power failures rest on `synchronous`.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

from tests.thoroughness import thorough

KILLS = thorough(quick=12, full=100)
WORKER = Path(__file__).with_name("repricing_crash_worker.py")
ROOT = WORKER.parents[2]


@pytest.mark.slow
def test_an_apply_or_undo_that_is_killed_is_in_force_as_a_whole_or_not_at_all(tmp_path):
    done = subprocess.run(
        [sys.executable, str(WORKER), str(tmp_path), str(KILLS), "7"],
        env={**os.environ, "PYTHONPATH": str(ROOT)},
        capture_output=True,
        text=True,
        timeout=300,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    report = json.loads(done.stdout)
    assert report["faults"] == []
    killed_in = report["killed_in"]
    assert sum(killed_in.values()) == KILLS
    assert min(killed_in[kind] for kind in ("apply", "undo")) >= KILLS // 4
    # Killed before and after the switch, and amid the chunks before it.
    assert {"applying", "applied", "undone"} <= {*report["left"]}
    assert all(report["acknowledged"].values())
