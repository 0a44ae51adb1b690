"""What was acknowledged is still there after the process is killed.

It shows process crashes only: a killed process loses nothing that the operating
system has. That a commit also outlives a power failure rests on `synchronous`,
which has a test of its own.
"""

from __future__ import annotations

from tests.contract.killing import report_of
from tests.thoroughness import thorough

KILLS = thorough(quick=10, full=40)


def test_no_acknowledged_version_is_lost_when_the_writer_is_killed(sqlite_url):
    report = report_of("crash_writer.py", sqlite_url, KILLS, "7", within_s=60)
    assert report["lost"] == []
    assert report["gaps"] == []
    assert report["integrity"] == ["ok"]
    assert report["kept"] >= report["acknowledged"] >= KILLS
