"""Published absorbing Markov chains.

Each test names its source. "Recomputed here" marks answers the source's page did
not show.
"""

from decimal import Decimal

import numpy as np
import pytest

from pricing.price_book import Chance, Redo, Stage
from pricing.spoilage import fundamental_matrix, spoilage

SHOWN = 5e-7  # six decimals

# A walk on 0 … 4 that ends at 0 or 4 and steps either way with chance ½. Numbers:
# rksmusings.com, R session comparing two drunkard walks; the example is Grinstead &
# Snell, Introduction to Probability, ch. 11 (attribution from memory).
WALK = np.array([[0, 0.5, 0], [0.5, 0, 0.5], [0, 0.5, 0]])


def test_f1_fundamental_matrix_of_the_walk():
    expected = [[1.5, 1, 0.5], [1, 2, 1], [0.5, 1, 1.5]]
    assert fundamental_matrix(WALK) == pytest.approx(np.array(expected), abs=1e-12)


def test_f1_mean_steps_of_the_walk():
    steps = fundamental_matrix(WALK).sum(axis=1)
    assert steps == pytest.approx([3, 4, 3], abs=1e-12)


def test_f1_chance_that_the_walk_ends_at_nought():
    ends = fundamental_matrix(WALK) @ [0.5, 0, 0]
    assert ends == pytest.approx([0.75, 0.50, 0.25], abs=1e-12)


def stage(key, scrap, redo=None, to=None):
    back = None
    if redo is not None:
        back = Redo(chance=Chance(rate=Decimal(redo)), to=to or key)
    return Stage(key=key, title="", scrap=Chance(rate=Decimal(scrap)), redo=back)


# SolutionInn copy of a textbook problem, three-stage production process: scrapped,
# reworked at the same stage, passed .08/.12/.80, .06/.09/.85, .04/.06/.90. All
# answers recomputed here.
PROCESS = (
    stage("one", "0.08", "0.12"),
    stage("two", "0.06", "0.09"),
    stage("three", "0.04", "0.06"),
)


def test_f2_share_sold_and_share_scrapped():
    result = spoilage(PROCESS)
    assert float(result.chance_good) == pytest.approx(0.813017, abs=SHOWN)
    product = (0.80 / 0.88) * (0.85 / 0.91) * (0.90 / 0.94)
    assert float(result.chance_good) == pytest.approx(product, abs=1e-9)
    scrapped = sum(one.scrapped for one in result.stages)
    assert float(scrapped) == pytest.approx(0.186983, abs=SHOWN)


def test_f2_share_sold_without_rework():
    straight = Decimal(1)
    for one in spoilage(PROCESS).stages:
        straight *= 1 - one.scrap.value - one.redo.value
    assert straight == Decimal("0.612")


def test_f2_share_scrapped_of_those_at_the_third_stage():
    third = spoilage(PROCESS).stages[2]
    assert float(1 - third.chance_good_from) == pytest.approx(0.042553, abs=SHOWN)


@pytest.mark.parametrize(("first", "inspections"), [(0, 0.903352), (1, 0.993687)])
def test_f2_mean_inspections_in_the_third_stage(first, inspections):
    # A unit that has come to stage one or two is a start of the stages from there.
    third = spoilage(PROCESS[first:]).stages[-1]
    assert float(third.visits) == pytest.approx(inspections, abs=SHOWN)


def test_f2_mean_inspections_in_all():
    visits = sum(one.visits for one in spoilage(PROCESS).stages)
    assert float(visits) == pytest.approx(3.038717, abs=SHOWN)


def test_f2_place_after_exactly_three_inspections():
    # Arithmetic on the chances of a visit: the project adds up visits, not steps.
    stages = spoilage(PROCESS).stages
    moves = np.zeros((3, 3))
    for i, one in enumerate(stages):
        moves[i, one.redo_to] = one.redo.value
        moves[i, i + 1 : i + 2] = 1 - one.scrap.value - one.redo.value
    third_power = np.linalg.matrix_power(moves, 3)
    assert third_power[0, 1] == pytest.approx(0.02664, abs=1e-12)


# academicacers.com machine-shop problem: A to B .95, else scrapped; B back to A .10,
# shipped .85, else scrapped. All answers recomputed here.
SHOP = (stage("a", "0.05"), stage("b", "0.05", "0.10", "a"))


def test_f3_share_shipped_in_two_steps():
    a, b = spoilage(SHOP).stages
    straight = (1 - a.scrap.value) * (1 - b.scrap.value - b.redo.value)
    assert straight == Decimal("0.8075")


def test_f3_share_ever_shipped():
    a, b = spoilage(SHOP).stages
    assert float(a.chance_good_from) == pytest.approx(0.892265, abs=SHOWN)
    assert float(b.chance_good_from) == pytest.approx(0.939227, abs=SHOWN)
    assert spoilage(SHOP).chance_good == a.chance_good_from


def test_f3_mean_process_visits():
    visits = sum(one.visits for one in spoilage(SHOP).stages)
    assert float(visits) == pytest.approx(2.154696, abs=SHOWN)
