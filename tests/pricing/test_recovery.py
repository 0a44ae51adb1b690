import random
from dataclasses import replace
from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pricing import price_book as pb
from pricing.forming import Shaping, plan_forming
from pricing.recovery import expected_masses_g, recovered, removed_by_stage
from pricing.ring_size import us_size
from pricing.route import route_work
from pricing.spoilage import spoilage
from tests.oracles.chains import moves_of, walk
from tests.oracles.workshops import (
    base_coin,
    book,
    rate,
    redo,
    silver_coin,
    spot,
    stage,
)

PLAN = plan_forming(
    silver_coin(), Shaping(size=us_size(Decimal(8)), finish_loss=Decimal("0.02"))
)
REMOVALS = ("slug", "bore", "finish")
TINY_G = Decimal("1e-6")


def expected(stages):
    work = route_work(book(stages=stages), PLAN.drivers)
    return expected_masses_g(PLAN, work, spoilage(stages))


@st.composite
def routes(draw):
    """Up to six stages; the three removals somewhere in order; any redo loops."""
    count = draw(st.integers(3, 6))
    places = sorted(draw(st.permutations(range(count)))[:3])
    removes = dict(zip(places, REMOVALS, strict=True))
    hundredths = st.integers(0, 30).map(lambda n: str(Decimal(n) / 100))
    return tuple(
        stage(
            f"s{i}",
            minutes="1",
            removes=removes.get(i, ""),
            scrap=rate(draw(hundredths)),
            redo=redo(draw(hundredths), f"s{draw(st.integers(0, i))}"),
        )
        for i in range(count)
    )


def by_levels(stages):
    """Slug, filings and scrap by the furthest stage of every start that is lost."""
    route = walk(moves_of(stages))
    found = dict.fromkeys(("slug", "filings", "scrap"), Fraction(0))
    left = Fraction(PLAN.mass_g)
    for each, reached, lost in zip(stages, route.reached, route.lost, strict=True):
        taken = Fraction(PLAN.removed_g.get(each.removes, 0))
        left -= taken
        found["slug" if each.removes == "slug" else "filings"] += reached * taken
        found["scrap"] += lost * left
    return found


@given(routes())
def test_masses_are_those_of_every_path_loops_past_removals_included(stages):
    for kind, mass in by_levels(stages).items():
        assert abs(expected(stages)[kind] - Decimal(float(mass))) < TINY_G


@given(routes())
def test_what_goes_in_comes_out(stages):
    masses = expected(stages)
    good = spoilage(stages).chance_good
    out = masses["slug"] + masses["filings"] + masses["scrap"]
    assert abs(out + good * PLAN.finished_g - PLAN.mass_g) < TINY_G


LOOPING = (
    stage("punch", removes="slug", scrap=rate("0.10")),
    stage("bore", removes="bore", scrap=rate("0.15"), redo=redo("0.25", "punch")),
    stage("finish", removes="finish", scrap=rate("0.20"), redo=redo("0.30", "punch")),
)


def one_start(rng):
    """Mass in each kind of scrap from one start, followed blow by blow."""
    moves, i, gone = moves_of(LOOPING), 0, set()
    while i < len(LOOPING):
        gone.add(LOOPING[i].removes)
        scrap, back, to = moves[i]
        fell = rng.random()
        if fell < scrap:
            left = PLAN.mass_g - sum(PLAN.removed_g[name] for name in gone)
            return gone, left
        i = to if fell < scrap + back else i + 1
    return gone, 0


def test_masses_are_those_of_starts_followed_one_by_one():
    rng, starts = random.Random(7), 40_000  # noqa: S311 - repeatable
    sums = dict.fromkeys(("slug", "filings", "scrap"), Decimal(0))
    for _ in range(starts):
        gone, left = one_start(rng)
        sums["slug"] += PLAN.slug_g
        sums["filings"] += sum(PLAN.removed_g[n] for n in gone - {"slug"})
        sums["scrap"] += left
    for kind, mass in expected(LOOPING).items():
        # the standard error of a mean of 40,000 masses up to 11 g is under 0.03 g
        assert float(sums[kind] / starts) == pytest.approx(float(mass), abs=0.08)


def test_a_piece_scrapped_where_it_is_punched_is_already_without_its_slug():
    masses = expected((stage("punch", removes="slug", scrap=rate("0.25")),))
    assert masses["slug"] == PLAN.slug_g
    assert masses["scrap"] == (PLAN.mass_g - PLAN.slug_g) / 4


def test_without_failures_nothing_is_scrapped():
    stages = tuple(stage(name, removes=name) for name in REMOVALS)
    masses = expected(stages)
    assert masses["scrap"] == 0
    assert masses["filings"] == PLAN.bored_g + PLAN.finish_loss_g


def test_removals_follow_the_route():
    work = route_work(book(stages=LOOPING), PLAN.drivers)
    assert removed_by_stage(PLAN, work) == (
        PLAN.slug_g,
        PLAN.bored_g,
        PLAN.finish_loss_g,
    )
    assert removed_by_stage(PLAN, (replace(work[0], removes=""),)) == (0,)


TERMS = pb.Recovery(
    slug=Decimal("0.90"), filings=Decimal("0.55"), scrap=Decimal("0.88")
)
OUNCE = Decimal("31.1034768")


def test_metal_is_worth_its_fine_ounces_at_the_payout_as_a_negative_cost():
    masses = {"slug": OUNCE, "filings": OUNCE * 2, "scrap": OUNCE / 2}
    found = list(recovered(silver_coin(), TERMS, masses))
    assert [item.kind for item in found] == ["slug", "filings", "scrap"]
    worth = [-item.credit.at(Decimal(10)) for item in found]
    assert worth == [Decimal("8.1"), Decimal("9.9"), Decimal("3.96")]
    assert all(item.credit.at(Decimal(0)) == 0 for item in found)


def test_scrap_that_is_not_there_or_not_paid_for_is_left_out():
    masses = {"slug": OUNCE, "filings": Decimal(0), "scrap": OUNCE}
    unpaid = replace(TERMS, scrap=Decimal(0))
    assert [x.kind for x in recovered(silver_coin(), unpaid, masses)] == ["slug"]


def test_base_metal_brings_nothing_back():
    masses = dict.fromkeys(("slug", "filings", "scrap"), OUNCE)
    assert not list(recovered(base_coin(), TERMS, masses))


def test_the_arithmetic_can_be_followed():
    (slug,) = recovered(silver_coin(), TERMS, {"slug": Decimal("4.6406")})
    assert slug.how(spot("27.50")) == ("4.6406 g × 0.900 ÷ 31.1035 × 27.50 × 90 % paid")
