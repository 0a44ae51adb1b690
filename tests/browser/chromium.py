"""Where the browser is, and how it is started."""

from __future__ import annotations

import os
import shutil

import pytest

NAMES = ("chromium", "chromium-browser", "google-chrome", "chrome")
MISSING = (
    "These tests need the browser Chromium, and there is none. On Debian or Ubuntu: "
    "apt-get install chromium. Elsewhere install it and name its program in CHROMIUM. "
    "tests/run --quick leaves these tests out."
)
FLAGS = (
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
)


def path() -> str:
    """The program; without one the tests fail, for a skipped test shows nothing."""
    found = os.environ.get("CHROMIUM") or shutil.which(NAMES[0])
    for name in NAMES[1:]:
        found = found or shutil.which(name)
    if not found:
        pytest.fail(MISSING, pytrace=False)
    return found


def flags() -> list[str]:
    """What it is started with; its own sandbox does not work for root."""
    is_root = hasattr(os, "geteuid") and os.geteuid() == 0
    return [*FLAGS, "--no-sandbox"] if is_root else [*FLAGS]
