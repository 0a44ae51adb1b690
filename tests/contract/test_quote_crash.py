"""Quotes, backups and restores stay whole when the process is killed at any point.

As elsewhere it shows process crashes only; power failures rest on `synchronous`.
"""

from __future__ import annotations

import pytest

from tests.contract.killing import report_of
from tests.thoroughness import thorough

KILLS = thorough(quick=12, full=200)
RESTORES = thorough(quick=3, full=20)


@pytest.mark.slow
def test_nothing_acknowledged_is_lost_and_nothing_is_half_done(tmp_path):
    report = report_of("quote_crash_worker.py", tmp_path, KILLS, RESTORES, "7")
    assert report["faults"] == []
    assert report["kills"] == KILLS + RESTORES
    killed_in = report["killed_in"]
    quoting = [killed_in[kind] for kind in ("create", "accept", "renew", "backup")]
    assert min(quoting) >= KILLS // 8
    assert killed_in["restore"] >= RESTORES // 4
    assert all(report["acknowledged"][kind] for kind in killed_in if kind != "between")
    assert report["backups"] >= report["acknowledged"]["backup"]
