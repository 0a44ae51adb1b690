"""Finding a spreadsheet engine, and having it recalculate a sheet."""

from __future__ import annotations

import json
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path
from typing import Any

ROWS = 10_000
FORMULAS = 25
PROGRAM = Path(__file__).with_name("office_sheet.py")
PATIENCE_S = 120


def recalculated() -> dict[str, Any] | None:
    """What the engine took; None if none is installed.

    The bridge to it comes with one Python or another of the system, hardly with
    the one that runs here, so the sheet is built by a program of its own.
    """
    office = shutil.which("soffice") or shutil.which("libreoffice")
    python = _with_bridge()
    if office is None or python is None:
        return None
    with tempfile.TemporaryDirectory() as folder:
        done = subprocess.run(
            [python, str(PROGRAM), office, folder, str(ROWS)],
            capture_output=True, text=True, timeout=PATIENCE_S, check=False,
        )  # fmt: skip
    if done.returncode:
        raise RuntimeError(done.stderr)
    told: dict[str, Any] = json.loads(done.stdout.splitlines()[-1])
    if told["formulas"] != FORMULAS:
        raise RuntimeError(f"the sheet has {told['formulas']} formulas a row")
    return told


def _with_bridge() -> str | None:
    """A Python that can talk to the engine."""
    usual = ("/usr/bin/python3", shutil.which("python3"), sys.executable)
    for python in filter(None, usual):
        if not Path(python).exists():
            continue
        asked = [python, "-I", "-c", "import uno"]
        if subprocess.run(asked, capture_output=True, check=False).returncode == 0:
            return python
    return None
