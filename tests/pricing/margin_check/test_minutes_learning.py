from dataclasses import replace
from decimal import Decimal

import pytest

from pricing.margin_check import StageEvidence
from pricing.margin_check.minutes_learning import PRIOR_SD, prior_sd, propose_minutes
from pricing.price_book import Stage

D = Decimal
FOLD = Stage(
    key="fold",
    title="Fold",
    setup_minutes=D(3),
    batch=6,
    minutes=D(4),
    minutes_per={"land_mm": D("0.4")},
)


def seen(ratio, *, n=40, plan=10, spread="0.2"):
    """Attempts at ``ratio`` of their plan that scatter by a share of it."""
    planned = D(plan) * n
    over = planned * (D(ratio) - 1)
    scatter = (D(spread) * plan) ** 2 * (n - 1)
    return StageEvidence(
        key="fold",
        title="Fold",
        timed=n,
        minutes=planned + over,
        planned_minutes=planned,
        difference_sq=over * over / n + scatter,
    )


def factor(evidence, **how):
    found = propose_minutes(replace(FOLD, minutes=D(1000)), evidence, **how)
    return D(found.sets["minutes"]) / 1000


def test_all_times_of_a_stage_move_by_one_factor():
    found = propose_minutes(FOLD, seen("1.5", n=4000))
    assert found.sets == {
        "setup_minutes": "4.5",
        "minutes": "6",
        "minutes_per": {"land_mm": "0.6"},
    }
    assert found.path == ("stages", "fold", "minutes")
    assert found.current == "4 + 0.4 × land_mm, set-up 3"
    assert found.proposed == "6 + 0.6 × land_mm, set-up 4.5"
    assert (found.n, found.how) == (
        4000,
        "1.5 of plan over 4000 attempts, at credibility 0.9996: × 1.4998",
    )


def test_the_factor_is_drawn_towards_one_by_the_credibility_of_the_bench():
    # variance of the ratio 0.2² ÷ 40 = 0.001 against 0.15² = 0.0225
    assert factor(seen("1.4")) == pytest.approx(
        1 + D("0.4") * D("0.0225") / D("0.0235"), abs=D("1e-5")
    )
    assert factor(seen("0.6")) == pytest.approx(
        1 - D("0.4") * D("0.0225") / D("0.0235"), abs=D("1e-5")
    )


def test_few_attempts_that_scatter_move_little():
    factors = [factor(seen("1.4", n=n, spread="0.5")) for n in (8, 40, 400)]
    assert factors == sorted(factors)
    assert factors[0] < D("1.18") < D("1.38") < factors[2] < D("1.4")
    assert factor(seen("1.4"), prior_sd=D("0.5")) > factor(seen("1.4"))


@pytest.mark.parametrize(
    "evidence",
    [seen("1.4", n=7), seen("1.0"), seen("1.00001"), replace(seen("1.4"), timed=0)],
)
def test_too_few_or_nothing_new_is_no_proposal(evidence):
    assert propose_minutes(FOLD, evidence) is None


def test_a_stage_without_minutes_in_the_book_gets_the_mean():
    bare = Stage(key="fold", title="Fold")
    evidence = replace(seen("1.4", n=10), planned_minutes=D(0), minutes=D(125))
    found = propose_minutes(bare, evidence)
    assert found.sets == {"minutes": "12.5"}
    assert (found.current, found.proposed) == ("0", "12.5")


def test_a_stage_of_set_up_alone_is_told_so():
    found = propose_minutes(Stage(key="a", title="A", setup_minutes=D(4)), seen("1.5"))
    assert found.current == "set-up 4"
    assert set(found.sets) == {"setup_minutes"}


def test_how_far_the_book_is_off_is_taken_from_all_stages_together():
    ratios = ["1.3", "0.7", "1.3", "0.7", "1.3"]
    stages = [seen(each, n=400) for each in ratios]
    assert prior_sd(stages) == pytest.approx(D("0.3"), abs=D("0.001"))
    assert prior_sd(stages[:4]) == PRIOR_SD
    assert prior_sd([*stages[:4], seen("1.3", n=7)]) == PRIOR_SD


def test_how_far_the_book_is_off_stays_within_reason():
    assert prior_sd([seen("1.0")] * 5) == D("0.05")
    assert prior_sd([seen("3.0")] * 5) == D("0.50")


def test_what_mere_scatter_explains_does_not_make_the_book_look_off():
    # (0.2)² less the variance 0.5² ÷ 8 of each ratio
    stages = [seen(each, n=8, spread="0.5") for each in ["1.2", "0.8"] * 3]
    assert prior_sd(stages) == pytest.approx(D("0.00875").sqrt())
