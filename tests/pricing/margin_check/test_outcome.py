from decimal import Decimal

from pricing.margin_check.outcome import COUNTS, StageCounts, StageOutcome, counts_of
from pricing.margin_check.stage_evidence import StageEvidence


def test_what_happened_at_a_stage_is_carried_whole_from_one_value_to_another():
    figures = dict(zip(COUNTS, map(Decimal, range(1, 9)), strict=True))
    seen = StageOutcome(
        key="fold", title="Fold", labour_efficiency=Decimal(9), **figures
    )
    assert counts_of(seen) == figures
    assert StageCounts(**counts_of(seen)) == StageCounts(**figures)
    assert counts_of(StageEvidence(key="fold", title="Fold").plus(seen)) == figures
