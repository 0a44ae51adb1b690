from decimal import Decimal

import pytest

from pricing.margin_check import StageEvidence, judge_stage
from pricing.margin_check.evidence import StandardsEvidence
from pricing.margin_check.learning import (
    propose_calibration,
    propose_minutes,
    propose_scrap,
    propose_stage,
)
from pricing.price_book import Calibration, Chance, Stage

D = Decimal
NONE_YET = Calibration(coin="dollar")


def ratios(*texts):
    return [D(each) for each in texts]


def test_scale_readings_draw_the_factor_from_the_one_in_force():
    found = propose_calibration(NONE_YET, "slug", ratios("1.05", "1.07", "1.06"))
    # Z = 0.15² ÷ (0.15² + 0.02² ÷ 3)
    assert found.sets == {"slug": "1.06"}
    assert found.path == ("calibrations", "dollar", "slug")
    assert (found.current, found.proposed, found.n) == ("1", "1.06", 3)
    assert found.how == (
        "the scale showed 1.06 of the model's mass, at credibility 0.9941"
    )


def test_readings_that_scatter_move_it_less():
    calm = propose_calibration(NONE_YET, "bored", ratios("1.2", "1.2", "1.2"))
    wild = propose_calibration(NONE_YET, "bored", ratios("0.9", "1.2", "1.5"))
    assert D(calm.proposed) > D("1.19") > D(wild.proposed) > D("1.05")


def test_it_is_drawn_from_the_factor_in_force_and_not_from_one():
    one_of_many = Calibration(coin="dollar", slug=D("1.2"))
    found = propose_calibration(one_of_many, "slug", ratios("1.0", "1.1", "0.9"))
    assert found.current == "1.2"
    assert D("1.0") < D(found.proposed) < D("1.2")


@pytest.mark.parametrize(
    ("texts", "factor"), [(("3", "3", "3"), "2"), (("0.1", "0.1", "0.1"), "0.5")]
)
def test_it_stays_within_what_a_book_allows(texts, factor):
    assert propose_calibration(NONE_YET, "slug", ratios(*texts)).proposed == factor


@pytest.mark.parametrize(
    ("current", "texts"),
    [
        (NONE_YET, ("1.2", "1.2")),
        (NONE_YET, ("1", "1", "1")),
        (Calibration(coin=""), ("1.2", "1.2", "1.2")),
    ],
)
def test_too_few_nothing_new_or_a_coin_without_a_key_is_no_proposal(current, texts):
    assert propose_calibration(current, "slug", ratios(*texts)) is None


FOLD = Stage(key="fold", title="Fold", minutes=D(10), scrap=Chance(tried=200, failed=4))


def seen(*, failed=1, redone=0, minutes=600):
    return StageEvidence(
        key="fold",
        title="Fold",
        tried=60,
        failed=failed,
        counted=60,
        redone=redone,
        timed=60,
        minutes=D(minutes),
        planned_minutes=D(600),
        difference_sq=D(200),
    )


@pytest.mark.parametrize(
    ("evidence", "kinds"),
    [
        (seen(), []),
        (seen(failed=9), ["scrap"]),
        (seen(redone=9), ["redo"]),
        (seen(minutes=640), ["minutes"]),
        (seen(failed=9, redone=9, minutes=640), ["scrap", "redo", "minutes"]),
    ],
)
def test_only_what_was_found_to_differ_is_proposed(evidence, kinds):
    judged = judge_stage(evidence, scrap_chance=D("0.022"), redo_chance=None)
    found = propose_stage(FOLD, evidence, (*judged, None))
    assert [each.path for each in found] == [("stages", "fold", x) for x in kinds]


def test_each_standard_is_judged_and_learnt_by_its_own_evidence():
    apart = StandardsEvidence(
        scrap=seen(failed=9, redone=9),
        redo=seen(failed=9, minutes=640),
        minutes=seen(redone=9, minutes=640),
    )
    judged = judge_stage(apart, scrap_chance=D("0.022"), redo_chance=None)
    assert [each.kind for each in judged] == ["scrap", "minutes"]
    found = propose_stage(FOLD, apart, judged)
    alone = [
        propose_scrap(FOLD, seen(failed=9)),
        propose_minutes(FOLD, seen(minutes=640)),
    ]
    assert list(found) == alone
