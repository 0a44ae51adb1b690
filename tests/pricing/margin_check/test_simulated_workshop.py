"""Twenty-six weeks of a workshop whose true rates and minutes are known.

Each week every stage is judged by the last twelve weeks. Figures of the full counts
(`tests/run --thorough`: 40 seeds for a row of alarms, 15 where there are 25 rings, and
30 for the rest):

A stage that is as the book has it is flagged in so many of a hundred stage-weeks:

    rings a week, spread of minutes, visits written down   scrap  redo  minutes  any
    3, 25 %, always                                          1.2   0.5      3.4  5.1
    8, 25 %, always                                          1.6   0.6      3.1  5.2
    8, 50 %, always                                          1.6   0.6      3.7  5.7
    8, 25 %, where there was more than one                   1.6   0.5      2.0  4.0
    25, 25 %, where there was more than one                  1.6   0.9      1.5  4.0
    8, 25 %, never                                           1.7   0.0      1.7  3.4

One that differs, at eight rings a week, is flagged in so many of a hundred of the weeks
12 to 26, and first in week (on average):

    scrap 8.0 % at fold, book 1.7 %          94   4.1
    scrap 5.0 % at bore, book 0.8 %          70   6.9
    redo 15 % at stretch, book 3 %          100   3.2
    minutes × 1.35 at wrap_down             100   1.3
    minutes × 1.20 at finish                100   2.4
    minutes × 0.75 at polish                100   1.2

A ring of this workshop was to bring 51.80 in weeks 1 to 10 and brings 10.72 less. With
what is proposed for the flagged stages accepted in weeks 10, 14 and 18, the rings of
weeks 19 to 26 are to bring 56.99 and bring 2.07 less (standard error 0.64): what is
left is the book's own counts, which still weigh. A workshop that is as its book has it
brings 0.10 less than planned (standard error 0.24).
"""

import tomllib
from collections import Counter
from dataclasses import dataclass
from pathlib import Path
from statistics import mean

import pytest

from pricing.margin_check import (
    Finding,
    StageEvidence,
    judge_stage,
    visits_per_try,
)
from pricing.margin_check.learning import (
    apply_proposals,
    prior_sd,
    propose_stage,
)
from pricing.price_book import document, read_price_book
from tests.pricing.margin_check.simulated_workshop import (
    Bench,
    Truth,
    chances,
    checked,
)
from tests.thoroughness import thorough

WEEKS = 26
WINDOW = 12
MOST_ALARMS = 0.06
SELDOM = "where more than one"
"""How most people write visits down, if they do."""
KINDS = ("scrap", "redo", "minutes")
DEMO = Path(__file__).parents[3] / "demo" / "price_book.toml"
BOOK = read_price_book(tomllib.loads(DEMO.read_text("utf-8")))
AS_BOOKED = Truth(BOOK)
DIFFERS = Truth(
    BOOK,
    scrap={"fold": 0.08, "bore": 0.05},
    redo={"stretch": 0.15},
    minutes={"wrap_down": 1.35, "finish": 1.20, "polish": 0.75},
)
POWER = (
    ("scrap", "fold", 0.85),
    ("scrap", "bore", 0.55),
    ("redo", "stretch", 0.95),
    ("minutes", "wrap_down", 0.95),
    ("minutes", "finish", 0.95),
    ("minutes", "polish", 0.95),
)
"""What differs, and the least share of the weeks from the 12th in which it is told."""
ALMOST_ALL = 0.95
LEARNING = (10, 14, 18)
"""Weeks at whose end what is proposed for the flagged stages is accepted."""


@dataclass
class Run:
    """The weeks of one seed under a book that may learn."""

    bench: Bench
    book: object
    checks: list
    since: dict

    @classmethod
    def of(cls, truth, seed, **how):
        bench = Bench(truth, seed, **how)
        return cls(bench, BOOK, [], dict.fromkeys((s.key for s in BOOK.stages), 0))

    def work_a_week(self, rings):
        self.checks.append(checked(self.bench, self.book, rings))

    def evidence(self):
        """Of the last twelve weeks, of each stage since its standard was changed."""
        first = max(0, len(self.checks) - WINDOW)
        visits = visits_per_try(self.book.stages)
        found = StageEvidence.gathered(
            stage
            for week, checks in enumerate(self.checks[first:], first)
            for check in checks
            for stage in check.lines[0].stages
            if week >= self.since[stage.key]
        )
        return tuple(each.in_doubt(visits[each.key]) for each in found)

    def _judged(self, evidence):
        stage = next(x for x in self.book.stages if x.key == evidence.key)
        scrap, redo = chances(stage)
        return judge_stage(evidence, scrap_chance=scrap, redo_chance=redo)

    def findings(self):
        """Kind and stage of all that is said to differ this week."""
        for each in self.evidence():
            said = self._judged(each)
            yield from ((j.kind, each.key) for j in said if isinstance(j, Finding))

    def learn(self):
        """Accepts what is proposed for the stages that are flagged."""
        evidence = self.evidence()
        stages = {stage.key: stage for stage in self.book.stages}
        sd = prior_sd(evidence)
        accepted = [
            proposal
            for each in evidence
            for proposal in propose_stage(
                stages[each.key], each, self._judged(each), prior_sd=sd
            )
        ]
        self.book = read_price_book(apply_proposals(document(self.book), accepted))
        for proposal in accepted:
            self.since[proposal.path[1]] = len(self.checks)

    def shortfall(self, weeks):
        """Mean realised less planned margin of a ring in these weeks [EUR]."""
        return mean(
            float(check.realised.margin - check.planned.margin)
            for checks in self.checks[weeks]
            for check in checks
        )


def flagged(truth, seeds, rings, **how):
    """Weeks in which each kind and stage was flagged, and stage-weeks in all."""
    weeks, alarms = 0, Counter()
    for seed in seeds:
        run = Run.of(truth, seed, **how)
        for _ in range(WEEKS):
            run.work_a_week(rings)
            found = set(run.findings())
            weeks += len(BOOK.stages)
            alarms.update(found)
            alarms["any"] += len({stage for _, stage in found})
    return weeks, alarms


@pytest.mark.parametrize(
    ("rings", "spread", "tells"),
    thorough(
        quick=[(3, 0.25, "always"), (8, 0.25, SELDOM)],
        full=[
            (3, 0.25, "always"),
            (8, 0.25, "always"),
            (8, 0.5, "always"),
            (8, 0.25, SELDOM),
            (25, 0.25, SELDOM),
            (8, 0.25, "never"),
        ],
    ),
)
def test_a_stage_as_booked_is_flagged_in_under_six_of_a_hundred_weeks(
    rings, spread, tells
):
    truth = Truth(BOOK, spread=spread)
    seeds = range(thorough(quick=6 if rings < 8 else 3, full=40 if rings < 25 else 15))
    weeks, alarms = flagged(truth, seeds, rings, tells=tells)
    by_kind = {
        kind: sum(n for key, n in alarms.items() if key[0] == kind) / weeks
        for kind in KINDS
    }
    assert 0 < alarms["any"] / weeks < MOST_ALARMS
    assert max(by_kind.values()) < MOST_ALARMS


def weeks_flagged(truth, seeds):
    """By seed, for each kind and stage the weeks in which it was flagged."""
    for seed in seeds:
        run, found = Run.of(truth, seed), {}
        for week in range(1, WEEKS + 1):
            run.work_a_week(8)
            for each in run.findings():
                found.setdefault(each, []).append(week)
        yield found


def test_stages_that_differ_are_flagged():
    runs = list(weeks_flagged(DIFFERS, range(thorough(quick=2, full=30))))
    for kind, key, power in POWER:
        weeks = [found.get((kind, key), []) for found in runs]
        late = mean(sum(week >= WINDOW for week in each) for each in weeks)
        assert late / (WEEKS - WINDOW + 1) >= power
        assert mean(bool(each) for each in weeks) >= ALMOST_ALL


def test_a_workshop_as_booked_brings_what_was_planned():
    """Seed by seed it varies by 1.33 a ring over 26 weeks; there is no drift in it."""
    runs = [Run.of(AS_BOOKED, seed) for seed in range(thorough(quick=4, full=30))]
    for run in runs:
        for _ in range(WEEKS):
            run.work_a_week(8)
    assert abs(mean(run.shortfall(slice(None)) for run in runs)) < thorough(1.5, 0.5)


def test_accepting_what_is_proposed_brings_planned_and_realised_together():
    runs = [Run.of(DIFFERS, seed) for seed in range(thorough(quick=4, full=30))]
    for run in runs:
        for week in range(1, WEEKS + 1):
            run.work_a_week(8)
            if week in LEARNING:
                run.learn()
    before = mean(run.shortfall(slice(LEARNING[0])) for run in runs)
    after = mean(run.shortfall(slice(LEARNING[-1], WEEKS)) for run in runs)
    assert before < -8
    assert abs(after) < abs(before) / thorough(quick=2, full=4)
