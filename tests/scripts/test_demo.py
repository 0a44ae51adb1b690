"""The demo as a newcomer starts it, and as the checks do: once."""

from __future__ import annotations

import os
import subprocess
import sys

from tests.architecture.source import ROOT


def test_the_demo_prices_its_rings_and_ends():
    done = subprocess.run(
        [sys.executable, str(ROOT / "demo" / "run"), "--once"],
        env=os.environ | {"USE_THIS_PYTHON": "yes", "PYTHONUTF8": "1"},
        capture_output=True, encoding="utf-8", check=False, timeout=120,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    assert "50 schilling" in done.stdout
    assert "target margin" in done.stdout
    assert "http" not in done.stdout
