"""Workers that kill processes again and again, and report what that left behind."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

FOLDER = Path(__file__).parent
ROOT = FOLDER.parents[1]


def report_of(worker, *arguments, within_s=300):
    """What a worker beside this file reports; it has to end well.

    Args:
        worker: name of its file.
        arguments: written as text.
        within_s: how long it may take [s].
    """
    done = subprocess.run(
        [sys.executable, str(FOLDER / worker), *map(str, arguments)],
        env={**os.environ, "PYTHONPATH": str(ROOT)},
        capture_output=True,
        text=True,
        timeout=within_s,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    return json.loads(done.stdout)
