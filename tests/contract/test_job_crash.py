"""An import and a completion are whole or not at all, wherever the process is killed.

As elsewhere it shows process crashes only; power failures rest on `synchronous`.
"""

from __future__ import annotations

import pytest

from tests.contract.killing import report_of
from tests.thoroughness import thorough

STEP = thorough(quick=12, full=1)
"""Of so many statements one is the last."""
LEAST = thorough(quick=2, full=10)
"""Kills of one deed; the first comes before anything is written [count]."""


@pytest.mark.slow
def test_what_is_killed_before_its_end_has_written_nothing(any_database):
    report = report_of("job_crash_worker.py", any_database, STEP)
    assert report.keys() == {"import", "complete"}
    for deed in report.values():
        assert deed["faults"] == []
        assert deed["done"]
        assert deed["kills"] >= LEAST
