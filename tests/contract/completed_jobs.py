"""Jobs that are completed, laid into a storage as sums; what made them is not told."""

from __future__ import annotations

from datetime import UTC, date, datetime, time
from decimal import Decimal
from itertools import count

from api.ports.jobs import Job, JobLine, JobResult, JobStage, ReadingSums, Worked
from pricing.iso_week import IsoWeek
from pricing.margin_check.outcome import PARTS

_serial = count(1)
MONDAY = date(2026, 11, 23)


def parts(**given):
    return {name: Decimal(str(given.get(name, 0))) for name in PARTS}


def result(planned, **made):
    """What a job came to that was planned to leave so much."""
    lost = parts(**made.get("parts", {}))
    margin = planned + sum(lost.values())
    return JobResult(
        coins_used=Decimal(made.get("coins", 1)),
        revenue=Decimal(100),
        cost=Decimal(100) - margin,
        margin=margin,
        parts=lost,
        minutes=Decimal(made.get("minutes", 60)),
        labour=Decimal(32),
        under_floor=made.get("under_floor", False),
        cause=made.get("cause"),
        assumed=made.get("assumed", ()),
    )


def job(day=MONDAY, *, status="completed", currency="EUR", **made):
    """A job that came to what is given; the rest of it does not matter."""
    planned, number = Decimal(str(made.get("planned", 40))), next(_serial)
    done, at = status == "completed", datetime.combine(day, time(12), UTC)
    return Job(
        id=f"job-{number:06}",
        number=f"J2020-{number:04}",  # which no server of today gives to another
        status=status,
        sku=made.get("sku", "ring"),
        title=made.get("title", f"Ring {number}"),
        created_at=made.get("created_at", at),
        created_by="anna",
        completed_at=at if done else None,
        completed_by="anna" if done else "",
        completed_day=day if done else None,
        week=str(IsoWeek.of(day)) if done else None,
        currency=currency,
        pieces=made.get("pieces", 1),
        floor_margin=Decimal("0.20"),
        planned_revenue=Decimal(100),
        planned_cost=Decimal(100) - planned,
        planned_margin=planned,
        planned_minutes=Decimal(made.get("planned_minutes", 50)),
        plan="{}",
        result=result(**made | {"planned": planned}) if done else None,
    )


def line(coin="at_50s_1959_1973", size="10", *, place=0, **made):
    lost = parts(**made.get("parts", {}))
    planned = Decimal(str(made.get("planned", 40)))
    return JobLine(
        line=place,
        coin=coin,
        coin_name=made.get("coin_name", coin or "A coin of yours"),
        size_us=Decimal(size),
        pieces=made.get("pieces", 1),
        coins_planned=Decimal("1.25"),
        coins_used=Decimal(made.get("coins", 1)),
        planned_margin=planned,
        realised_margin=planned + sum(lost.values()),
        parts=lost,
        slug=made.get("slug", ReadingSums()),
        bored=made.get("bored", ReadingSums()),
    )


def stage(key="fold", *, place=0, tried=1, **made):
    timed = made.get("timed", tried)
    return JobStage(
        line=place,
        stage=key,
        title=made.get("title", key.capitalize()),
        tried=tried,
        failed=made.get("failed", 0),
        counted=made.get("counted", tried),
        redone=made.get("redone", 0),
        timed=timed,
        minutes=Decimal(str(made.get("minutes", 10 * timed))),
        planned_minutes=Decimal(str(made.get("planned_minutes", 10 * timed))),
        difference_sq=Decimal(str(made.get("difference_sq", timed))),
        labour_efficiency=Decimal(str(made.get("efficiency", 0))),
        scrap_chance=Decimal("0.05"),
        redo_chance=None,
    )


def lay(storage, *jobs):
    """Store (job, lines, stages) each; the jobs with their ``seq``."""

    def work(unit):
        stored = unit.jobs.add([each[0] for each in jobs])
        unit.jobs.set_results(
            [
                Worked(job=one, lines=tuple(lines), stages=tuple(stages))
                for one, (_, lines, stages) in zip(stored, jobs, strict=True)
            ]
        )
        return stored

    return storage.write(work)
