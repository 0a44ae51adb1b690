"""A skipped test is not a passed one: where checks decide, it fails the run.

Loaded by tests/run. On a maker's own machine a skip is only shown; with CI=true
the run fails and names what was skipped and why.
"""

from __future__ import annotations

import os

import pytest

FAILED = pytest.ExitCode.TESTS_FAILED


class SkipWatch:
    """Remembers what was skipped, tests and whole files alike."""

    def __init__(self) -> None:
        self.skipped: list[str] = []

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        if report.skipped:
            self.skipped.append(f"{report.nodeid}: {reason(report)}")

    def pytest_collectreport(self, report: pytest.CollectReport) -> None:
        if report.skipped:
            self.skipped.append(f"{report.nodeid}: {reason(report)}")

    def pytest_sessionfinish(self, session: pytest.Session, exitstatus: int) -> None:
        if self.skipped and exitstatus == pytest.ExitCode.OK:
            session.exitstatus = FAILED

    def pytest_terminal_summary(
        self, terminalreporter: pytest.TerminalReporter
    ) -> None:
        if self.skipped:
            terminalreporter.section("skipped, which fails here", red=True)
            for line in self.skipped:
                terminalreporter.line(line)


def reason(report: pytest.TestReport | pytest.CollectReport) -> str:
    """Why it was skipped, as its author put it."""
    told = report.longrepr
    return str(told[2]) if isinstance(told, tuple) else str(told)


def pytest_configure(config: pytest.Config) -> None:
    if os.environ.get("CI", "").lower() in {"1", "true"}:
        config.pluginmanager.register(SkipWatch(), "skip-watch")
