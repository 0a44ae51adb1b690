from decimal import Decimal
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pricing.errors import InvalidInput
from pricing.price_book import Chance, Redo, Stage
from pricing.spoilage import fundamental_matrix, spoilage
from tests.oracles.recovery import expected_recovery

CLOSE = 5e-8
STEPS = 3000


def stage(i, scrap="0", redo=None):
    """Stage number i; ``redo`` is (chance, position to go back to)."""
    back = redo and Redo(chance=Chance(rate=Decimal(redo[0])), to=f"s{redo[1]}")
    scrapped = Chance(rate=Decimal(scrap))
    return Stage(key=f"s{i}", title=f"Stage {i}", scrap=scrapped, redo=back or None)


def route(*chances):
    """Stages from (scrap, redo chance, position to go back to)."""
    return tuple(stage(i, q, (r, to)) for i, (q, r, to) in enumerate(chances))


def in_hundredths(lowest, highest):
    return st.decimals(lowest, highest, places=2, allow_nan=False)


@st.composite
def chances(draw, *, most_scrap="0.30"):
    """A route of up to five stages, none of which sends back more than 0.40."""
    return [
        (
            draw(in_hundredths("0", most_scrap)),
            draw(in_hundredths("0", "0.40")),
            draw(st.integers(0, i)),
        )
        for i in range(draw(st.integers(1, 5)))
    ]


def followed(chances):
    """Visits and chance of good, by letting one start seep down the route."""
    share = [1.0] + [0.0] * (len(chances) - 1)
    visits, good = [0.0] * len(chances), 0.0
    for _ in range(STEPS):
        moved = [0.0] * len(chances)
        for i, (scrap, redo, to) in enumerate(chances):
            visits[i] += share[i]
            moved[to] += share[i] * float(redo)
            passed = share[i] * (1 - float(scrap) - float(redo))
            if i + 1 < len(chances):
                moved[i + 1] += passed
            else:
                good += passed
        share = moved
        if sum(share) < 1e-13:
            return visits, good
    pytest.fail("the route did not empty")


def visits_of(chances):
    return [float(one.visits) for one in spoilage(route(*chances)).stages]


def changed(chances, i, *, scrap=None, redo=None):
    old_scrap, old_redo, to = chances[i]
    new = (old_scrap + (scrap or 0), old_redo + (redo or 0), to)
    return [*chances[:i], new, *chances[i + 1 :]]


@given(chances())
def test_visits_and_chance_agree_with_following_a_start_step_by_step(chances):
    visits, good = followed(chances)
    result = spoilage(route(*chances))
    assert visits_of(chances) == pytest.approx(visits, abs=CLOSE)
    assert float(result.chance_good) == pytest.approx(good, abs=CLOSE)


@given(chances())
def test_every_start_ends_good_or_scrapped(chances):
    result = spoilage(route(*chances))
    ends = result.chance_good + sum(one.scrapped for one in result.stages)
    assert float(ends) == pytest.approx(1, abs=CLOSE)


@given(chances())
def test_scrapped_is_the_scrap_chance_of_every_visit(chances):
    for one in spoilage(route(*chances)).stages:
        expected = float(one.visits * one.scrap.value)
        assert float(one.scrapped) == pytest.approx(expected, abs=CLOSE)


@given(chances())
def test_a_later_stage_is_reached_no_more_often_and_promises_no_less(chances):
    stages = spoilage(route(*chances)).stages
    for one, following in pairwise(stages):
        assert float(one.reached) >= float(following.reached) - CLOSE
        assert float(one.chance_good_from) <= float(following.chance_good_from) + CLOSE


@given(chances())
def test_a_good_start_reaches_every_stage_and_is_good_from_there(chances):
    result = spoilage(route(*chances))
    for one in result.stages:
        through = float(one.reached * one.chance_good_from)
        assert through == pytest.approx(float(result.chance_good), abs=CLOSE)


@given(chances(), st.data())
def test_the_chance_of_good_falls_when_a_scrap_chance_rises(chances, data):
    i = data.draw(st.integers(0, len(chances) - 1))
    worse = changed(chances, i, scrap=data.draw(in_hundredths("0.01", "0.29")))
    before, after = spoilage(route(*chances)), spoilage(route(*worse))
    assert after.chance_good < before.chance_good


@given(chances(), st.data())
def test_the_stage_gone_back_to_is_visited_more_when_more_is_sent_back(chances, data):
    i = data.draw(st.integers(0, len(chances) - 1))
    more = changed(chances, i, redo=data.draw(in_hundredths("0.01", "0.29")))
    to = chances[i][2]
    assert visits_of(more)[to] >= visits_of(chances)[to] - CLOSE


@given(chances(most_scrap="0"), st.data())
def test_no_visits_fall_in_a_sound_route_when_more_is_sent_back(chances, data):
    # With scrap about they may: fewer pieces then come to the later stages.
    i = data.draw(st.integers(0, len(chances) - 1))
    more = changed(chances, i, redo=data.draw(in_hundredths("0.01", "0.29")))
    for before, after in zip(visits_of(chances), visits_of(more), strict=True):
        assert after >= before - CLOSE


@given(chances(most_scrap="0"))
def test_without_scrap_every_start_ends_good(chances):
    result = spoilage(route(*chances))
    assert result.chance_good == 1
    assert result.starts_per_good == 1
    assert all(one.scrapped == 0 for one in result.stages)


@given(chances(most_scrap="0"), in_hundredths("0", "3"))
def test_without_scrap_there_is_no_scrap_to_sell(chances, price):
    nothing = [Decimal(0)] * len(chances)
    recovery = expected_recovery(
        spoilage(route(*chances)),
        mass_g=Decimal(20),
        removed_g=nothing,
        removal_credit=nothing,
        scrap_credit_per_g=price,
    )
    assert recovery == 0


def test_stages_in_a_row_multiply():
    result = spoilage(route(("0.10", "0", 0), ("0.20", "0", 1), ("0.05", "0", 2)))
    assert result.chance_good == Decimal("0.684")
    assert [one.visits for one in result.stages] == [1, Decimal("0.9"), Decimal("0.72")]
    assert [one.reached for one in result.stages] == [
        1,
        Decimal("0.9"),
        Decimal("0.72"),
    ]


def test_a_stage_done_over_is_visited_one_over_one_minus_r_times():
    (one,) = spoilage(route(("0", "0.2", 0))).stages
    assert one.visits == Decimal("1.25")
    assert one.reached == 1


def test_going_back_repeats_the_stages_between():
    # One in five starts the three stages over: 1.25 rounds of each.
    result = spoilage((stage(0), stage(1), stage(2, redo=("0.2", 0))))
    assert [one.visits for one in result.stages] == [Decimal("1.25")] * 3


def test_each_stage_says_where_it_sends_back_to():
    first, last = spoilage((stage(0), stage(1, redo=("0.2", 0)))).stages
    assert (first.redo, first.redo_to) == (None, None)
    assert (last.redo.value, last.redo_to) == (Decimal("0.2"), 0)
    assert (last.key, last.title) == ("s1", "Stage 1")


def test_a_route_without_stages_cannot_fail():
    result = spoilage(())
    assert result.stages == ()
    assert result.chance_good == result.starts_per_good == 1


def test_starts_per_good_are_one_over_the_chance():
    assert spoilage(route(("0.30", "0", 0))).starts_per_good == Decimal("1.428571429")


def test_prudence_reaches_scrap_and_redo_counts():
    counts = Chance(tried=60, failed=2)
    one = Stage(key="a", title="A", scrap=counts, redo=Redo(chance=counts, to="a"))
    (plain,) = spoilage((one,)).stages
    (careful,) = spoilage((one,), prudence=Decimal("0.9")).stages
    assert careful.scrap.value == careful.redo.value > plain.scrap.value
    assert careful.visits > plain.visits


@pytest.mark.parametrize(
    ("scrap", "redo"), [("0.6", "0.4"), ("1", "0"), ("0.9", "0.2")]
)
def test_a_stage_nothing_passes_is_refused_by_name(scrap, redo):
    stages = (stage(0), stage(1, scrap, (redo, 0)))
    with pytest.raises(InvalidInput, match="stage 's1' scraps or sends back") as caught:
        spoilage(stages)
    assert caught.value.path == ("stages", 1, "scrap")


@pytest.mark.parametrize("to", ["s1", "nowhere"])
def test_going_back_is_to_the_stage_itself_or_an_earlier_one(to):
    ahead = Redo(chance=Chance(rate=Decimal("0.1")), to=to)
    stages = (Stage(key="s0", title="", redo=ahead), stage(1))
    with pytest.raises(
        InvalidInput, match=f"'s0' sends pieces back to '{to}'"
    ) as caught:
        spoilage(stages)
    assert caught.value.path == ("stages", 0, "redo", "to")


@pytest.mark.parametrize("member", ["scrap", "redo"])
def test_a_chance_that_is_none_is_pointed_at(member):
    wrong = Chance(tried=1, failed=2)
    chances = (
        {"scrap": wrong} if member == "scrap" else {"redo": Redo(chance=wrong, to="a")}
    )
    with pytest.raises(InvalidInput) as caught:
        spoilage((stage(0), Stage(key="a", title="", **chances)))
    assert caught.value.path == ("stages", 1, member, "failed")


def test_a_route_that_hardly_ever_ends_is_refused():
    with pytest.raises(InvalidInput, match=r"stage 's0' more than 10,000") as caught:
        spoilage(route(("0", "0.9999", 0), ("0", "0.5", 0)))
    assert caught.value.path == ("stages", 0)


def test_loops_inside_loops_that_drown_the_digits_are_refused():
    with pytest.raises(InvalidInput, match=r"more than 10,000|never ends"):
        spoilage(route(*[("0", "0.999999999", 0)] * 14))


def test_a_route_with_thousands_of_visits_is_answered():
    (one,) = spoilage(route(("0", "0.9998", 0))).stages
    assert float(one.visits) == pytest.approx(5000, abs=1e-6)


def test_a_route_that_yields_next_to_nothing_is_refused():
    with pytest.raises(InvalidInput, match="thousand million") as caught:
        spoilage(route(*[("0.99", "0", 0)] * 5))
    assert caught.value.path == ("stages",)


def test_a_chain_without_a_way_out_is_refused():
    with pytest.raises(InvalidInput, match="never ends"):
        fundamental_matrix(np.array([[0.0, 1.0], [1.0, 0.0]]))


def followed_recovery(chances, mass_g, taken, credit, price):
    """Recovery of one start, by letting it seep down with the metal it has left."""
    share = {(0, -1): 1.0}  # (stage, furthest stage so far) → chance
    earned = 0.0
    for _ in range(STEPS):
        moved = {}
        for (i, furthest), here in share.items():
            if i > furthest:
                earned += here * float(credit[i])
            reached = max(i, furthest)
            scrap, redo, to = (float(x) for x in chances[i])
            earned += here * scrap * price * float(mass_g - sum(taken[: reached + 1]))
            for step, chance in ((int(to), redo), (i + 1, 1 - scrap - redo)):
                if step < len(chances):
                    key = (step, reached)
                    moved[key] = moved.get(key, 0.0) + here * chance
        share = moved
        if sum(share.values()) < 1e-13:
            return earned
    pytest.fail("the route did not empty")


@given(chances(), st.data())
def test_recovery_agrees_with_following_the_metal_step_by_step(chances, data):
    n = len(chances)
    taken = data.draw(st.lists(in_hundredths("0", "4"), min_size=n, max_size=n))
    credit = data.draw(st.lists(in_hundredths("0", "9"), min_size=n, max_size=n))
    recovery = expected_recovery(
        spoilage(route(*chances)),
        mass_g=Decimal(20),
        removed_g=taken,
        removal_credit=credit,
        scrap_credit_per_g=Decimal("0.75"),
    )
    expected = followed_recovery(chances, Decimal(20), taken, credit, 0.75)
    assert float(recovery) == pytest.approx(expected, abs=1e-6)


def test_recovery_wants_one_removal_a_stage():
    with pytest.raises(ValueError, match="argument 2 is shorter"):
        expected_recovery(
            spoilage((stage(0), stage(1))),
            mass_g=Decimal(20),
            removed_g=[Decimal(1)],
            removal_credit=[Decimal(1), Decimal(1)],
            scrap_credit_per_g=Decimal(1),
        )


def test_doing_over_what_never_scraps_costs_visits_and_no_pieces():
    once = spoilage(route(("0.10", "0", 0), ("0", "0", 1), ("0.20", "0", 2)))
    twice = spoilage(route(("0.10", "0", 0), ("0", "0.5", 1), ("0.20", "0", 2)))
    assert twice.chance_good == once.chance_good == Decimal("0.72")
    assert twice.stages[1].visits == 2 * once.stages[1].visits
