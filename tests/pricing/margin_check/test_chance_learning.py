from dataclasses import replace
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pricing.chance import estimated_chance
from pricing.margin_check import StageEvidence
from pricing.margin_check.chance_learning import propose_redo, propose_scrap
from pricing.price_book import Chance, Redo, Stage

D = Decimal
FOLD = Stage(key="fold", title="Fold", scrap=Chance(tried=40, failed=2))
COUNTS = st.integers(1, 2000).flatmap(
    lambda n: st.tuples(st.integers(0, n), st.just(n))
)


def seen(failed, tried):
    return StageEvidence(
        key="fold",
        title="Fold",
        tried=tried,
        failed=failed,
        counted=tried,
        redone=failed,
    )


def scrap(chance, failed, tried):
    return propose_scrap(replace(FOLD, scrap=chance), seen(failed, tried))


def mean(counts):
    return estimated_chance(
        Chance(tried=counts["tried"], failed=counts["failed"])
    ).value


def test_counts_of_bench_and_book_are_added():
    found = scrap(Chance(tried=40, failed=2), 3, 20)
    assert found.sets == {"scrap": {"tried": 60, "failed": 5}}
    assert found.path == ("stages", "fold", "scrap")
    assert found.dotted == "stages.fold.scrap"
    assert (found.n, found.current, found.proposed) == (
        20,
        "2 of 40 (6.1 %)",
        "5 of 60 (9.02 %)",
    )
    assert found.how == "the book's 2 of 40, with 3 of 20 at the bench: 9.02 %"


def test_old_counts_weigh_no_more_than_fifty_tries():
    found = scrap(Chance(tried=1000, failed=20), 8, 50)
    counts = found.sets["scrap"]
    # (20.5 × 51 ÷ 1001 + 8) ÷ 101
    assert mean(counts) == pytest.approx(D("0.08955"), abs=D("0.0006"))
    assert counts["tried"] == pytest.approx(100, rel=0.1)
    assert "counted as 50 tries" in found.how


def test_a_given_rate_weighs_twenty_tries():
    found = scrap(Chance(rate=D("0.05")), 5, 40)
    assert mean(found.sets["scrap"]) == pytest.approx(D("0.1"), abs=D("0.002"))
    assert found.current == "5 %"
    assert "5 % counted as 20 tries" in found.how


def test_few_data_move_little_and_many_move_far():
    book = Chance(tried=300, failed=6)
    few, many = (scrap(book, 8 * k // 8, 8 * k).sets["scrap"] for k in (1, 100))
    assert mean(few) < D("0.05") < D("0.11") < mean(many) < D("0.13")


@pytest.mark.parametrize(
    ("chance", "failed", "tried"),
    [
        (Chance(rate=D(0)), 0, 50),  # never by the book, never seen
        (Chance(tried=40, failed=2), 5, 7),  # too few
        (Chance(rate=D("0.05")), 0, 0),
    ],
)
def test_nothing_new_is_no_proposal(chance, failed, tried):
    assert scrap(chance, failed, tried) is None


def test_the_same_counts_again_are_no_proposal():
    # 69 of the book's tries are let go, and as many come that say much the same
    assert scrap(Chance(tried=119, failed=59), 34, 69) is None


@given(COUNTS, COUNTS)
def test_the_proposed_mean_lies_between_the_books_and_the_benchs(book, bench):
    old = Chance(failed=book[0], tried=book[1])
    found = scrap(old, *bench)
    if found is None:
        return
    counts = found.sets["scrap"]
    low, high = sorted((estimated_chance(old).value, D(bench[0]) / bench[1]))
    # Whole counts cannot have every mean; they are off by half a try at the most.
    slack = 2 * high / (counts["tried"] + 1) + D("0.5") / (counts["tried"] + 1) ** 2
    assert low - slack <= mean(counts) <= high + slack
    assert 0 <= counts["failed"] <= counts["tried"]


def test_redo_keeps_its_way_back():
    stage = replace(FOLD, redo=Redo(chance=Chance(rate=D("0.05")), to="anneal"))
    found = propose_redo(stage, seen(9, 40))
    assert found.path == ("stages", "fold", "redo")
    assert found.sets["redo"]["to"] == "anneal"
    assert mean(found.sets["redo"]) == pytest.approx(D(10) / 60, abs=D("0.003"))


def test_a_first_way_back_leads_to_the_stage_itself():
    found = propose_redo(FOLD, seen(3, 20))
    assert found.sets["redo"]["to"] == "fold"
    assert found.current == "0 %"
    assert propose_redo(FOLD, seen(0, 20)) is None


def test_fewer_sent_back_are_learnt_from_the_visits_that_were_told():
    stage = replace(FOLD, redo=Redo(chance=Chance(rate=D("0.05")), to="fold"))
    told = replace(seen(1, 400), counted=150)
    assert propose_redo(stage, told).n == 150
    assert propose_redo(stage, replace(told, redone=40)).n == 400
