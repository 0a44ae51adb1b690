"""What was acknowledged is still there after the process is killed.

It shows process crashes only: a killed process loses nothing that the operating
system has. That a commit also outlives a power failure rests on `synchronous`,
which has a test of its own.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

from tests.thoroughness import thorough

KILLS = thorough(quick=10, full=40)
WRITER = Path(__file__).with_name("crash_writer.py")
ROOT = WRITER.parents[2]


def test_no_acknowledged_version_is_lost_when_the_writer_is_killed(sqlite_url):
    done = subprocess.run(
        [sys.executable, str(WRITER), sqlite_url, str(KILLS), "7"],
        env={**os.environ, "PYTHONPATH": str(ROOT)},
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    report = json.loads(done.stdout)
    assert report["lost"] == []
    assert report["gaps"] == []
    assert report["integrity"] == ["ok"]
    assert report["kept"] >= report["acknowledged"] >= KILLS
