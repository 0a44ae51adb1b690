"""What a completed job is kept as, for the sums of a week."""

from __future__ import annotations

from datetime import datetime, timedelta, timezone
from decimal import Decimal

import pytest

from api.services.jobs.result import worked_out
from pricing.errors import InvalidInput
from pricing.margin_check.bridge import PARTS
from tests.services.logbook import attempt
from tests.services.promising import DOLLAR, ask


def test_lines_and_stages_add_up_to_the_job(logbook):
    job = logbook.opened(ask(quantity=2), ask(DOLLAR, size="6.5"))
    logbook.attempts.add(job.id, attempt("scrapped", stage="fold", slug_g="3.8"))
    logbook.attempts.add(job.id, attempt(minutes={"fold": "30.5"}, slug_g="3.7"))
    logbook.attempts.add(job.id, attempt(line=1, bored_g="0.7"))
    done = logbook.jobs.complete(job.id, expected=None)
    lines, stages = logbook.storage.read(lambda unit: unit.jobs.results(done.seq))
    result = done.result
    assert tuple(result.parts) == PARTS
    for part in PARTS:
        assert sum(line.parts[part] for line in lines) == result.parts[part]
    assert sum(line.realised_margin for line in lines) == result.margin
    by_stage = sum(stage.labour_efficiency for stage in stages)
    assert by_stage == result.parts["labour_efficiency"]
    assert [line.size_us for line in lines] == [10, Decimal("6.5")]
    slug, bored = lines[0].slug, lines[1].bored
    model = logbook.plan(job).lines[0].slug_g
    assert (slug.n, bored.n) == (2, 1)
    assert abs(slug.ratio - Decimal("7.5") / model) < Decimal("1e-8")
    assert slug.ratio_sq > slug.ratio**2 / 2
    worked = worked_out(done, logbook.log_of(done))
    assert worked.job == done
    assert worked.lines == lines
    assert sorted(worked.stages, key=lambda x: (x.line, x.stage)) == list(stages)


@pytest.mark.parametrize("hours", [-12, 0, 14])
def test_a_moment_that_no_zone_can_tell_is_refused(logbook, hours):
    job = logbook.opened(ask())
    dawn = datetime.min.replace(tzinfo=timezone(timedelta(hours=hours)))
    with pytest.raises(InvalidInput, match="year 1 is not kept") as refused:
        logbook.jobs.complete(job.id, expected=None, at=dawn)
    assert refused.value.path == ("completed_at",)
