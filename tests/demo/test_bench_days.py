"""The demo's weeks at the bench: they add up, and something needs attention."""

from __future__ import annotations

import importlib

import pytest

from tests.architecture.source import ROOT


@pytest.fixture
def demo(monkeypatch):
    """The demo's own modules, by name."""
    monkeypatch.syspath_prepend(str(ROOT / "demo"))
    return importlib.import_module


@pytest.fixture
def services(demo, tmp_path):
    story = demo("story")
    with demo("feed_server").serving() as url:
        _, services, _ = story.open_workshop(tmp_path / "demo", url)
        story.fetch(services)
        yield services
        services.close()


def test_the_week_has_a_job_under_its_floor_and_a_stage_that_takes_longer(
    demo, services
):
    days, promises = demo("bench_days"), demo("promises")
    demo("following").stock(services)
    quote = promises.pair(services)
    promises.accept(services, quote)
    days.work(services, quote)
    told = days.told(services)
    first = told.splitlines()[0]
    assert " 5 jobs, margin " in first
    assert "1 job is under the floor" in first
    assert "Fold over the cone" in first
    checks = services.bench.margin_checks
    check = checks.week(checks.this_week())
    assert [week.jobs for week in check.trend][-4:] == [4, 4, 4, 5]
    assert check.sums.planned_margin + sum(check.sums.parts.values()) == (
        check.sums.margin
    )
    assert [x for x in check.proposals if x.dotted == "stages.fold.minutes"]
