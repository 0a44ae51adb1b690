"""An import and a completion are whole or not at all, wherever the process is killed.

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

STEP = thorough(quick=12, full=1)
"""Of so many statements one is the last."""
WORKER = Path(__file__).with_name("job_crash_worker.py")
ROOT = WORKER.parents[2]


@pytest.mark.slow
def test_what_is_killed_before_its_end_has_written_nothing(any_database):
    done = subprocess.run(
        [sys.executable, str(WORKER), any_database, str(STEP)],
        env={**os.environ, "PYTHONPATH": str(ROOT)},
        capture_output=True,
        text=True,
        timeout=300,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    report = json.loads(done.stdout)
    assert report.keys() == {"import", "complete"}
    for deed in report.values():
        assert deed["faults"] == []
        assert deed["done"]
        assert deed["kills"] >= 10 // STEP
