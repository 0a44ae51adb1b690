"""Quotes, backups and restores stay whole when the process is killed at any point.

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

KILLS = thorough(quick=12, full=200)
RESTORES = thorough(quick=3, full=20)
WORKER = Path(__file__).with_name("quote_crash_worker.py")
ROOT = WORKER.parents[2]


@pytest.mark.slow
def test_nothing_acknowledged_is_lost_and_nothing_is_half_done(tmp_path):
    done = subprocess.run(
        [sys.executable, str(WORKER), str(tmp_path), str(KILLS), str(RESTORES), "7"],
        env={**os.environ, "PYTHONPATH": str(ROOT)},
        capture_output=True,
        text=True,
        timeout=300,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    report = json.loads(done.stdout)
    assert report["faults"] == []
    assert report["kills"] == KILLS + RESTORES
    killed_in = report["killed_in"]
    quoting = [killed_in[kind] for kind in ("create", "accept", "renew", "backup")]
    assert min(quoting) >= KILLS // 8
    assert killed_in["restore"] >= RESTORES // 4
    assert all(report["acknowledged"][kind] for kind in killed_in if kind != "between")
    assert report["backups"] >= report["acknowledged"]["backup"]
