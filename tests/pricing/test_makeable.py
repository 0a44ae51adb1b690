from dataclasses import replace
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pricing.errors import NotMakeable
from pricing.makeable import Trial, refuse_unmakeable
from pricing.price_book import Forming
from pricing.ring_size import us_size
from tests.oracles.workshops import silver_coin

LIMITS = Forming(min_wall_mm=Decimal("1.0"), min_land_mm=Decimal("2.5"))


def trial(us="8", hole="14", limits=LIMITS, **coin):
    made = silver_coin(**coin)
    return Trial(
        coin=made,
        size=us_size(Decimal(us)),
        hole_mm=Decimal(hole),
        mass_g=made.gross_mass_g,
        limits=limits,
    )


def refused(one):
    with pytest.raises(NotMakeable) as found:
        refuse_unmakeable(one)
    return found.value


def test_a_ring_within_all_limits_passes():
    assert trial().limit_met is None
    refuse_unmakeable(trial())


@pytest.mark.parametrize(
    ("hole", "reason"),
    [("30", "hole_too_large"), ("31", "hole_too_large"), ("25.5", "land_too_short")],
)
def test_too_large_a_hole_is_refused_with_a_hole_that_does(hole, reason):
    error = refused(trial(hole=hole))
    assert error.reason == reason
    assert error.nearest_size_us is None
    assert replace(trial(), hole_mm=error.nearest_hole_mm).limit_met is None


def test_a_land_of_just_the_limit_is_makeable():
    loose = replace(LIMITS, min_wall_mm=Decimal("0.01"))
    assert trial(hole="25", limits=loose).limit_met is None
    assert trial(hole="25.01", limits=loose).limit_met[0] == "land_too_short"


def test_a_size_under_the_bore_allowance_is_refused_with_one_that_does():
    error = refused(trial("0.5", bore_allowance=Decimal(2)))
    assert error.reason == "size_too_small"
    assert error.nearest_size_us == 2
    assert error.nearest_hole_mm is None
    assert trial("2", bore_allowance=Decimal(2)).limit_met is None


def test_a_wall_under_the_limit_is_refused_with_a_size_and_a_hole_that_do():
    # A larger hole puts metal nearer the coin's edge, where the wall is thicker.
    error = refused(trial("8", hole="8"))
    assert error.reason == "wall_too_thin"
    assert replace(trial(), hole_mm=error.nearest_hole_mm).limit_met is None


def test_what_cannot_be_offered_is_not():
    thick = replace(LIMITS, min_wall_mm=Decimal(20))
    error = refused(trial(limits=thick))
    assert (error.nearest_size_us, error.nearest_hole_mm) == (None, None)
    assert "choose another coin" in error.message


def test_the_message_says_what_was_asked_what_is_allowed_and_what_to_do():
    message = refused(trial("0.5", bore_allowance=Decimal(2))).message
    assert "Invented coin" in message
    assert "US 0.5" in message
    assert "try size US 2 with this hole" in message


def test_only_punches_owned_are_offered():
    owned = replace(LIMITS, punches_mm=(Decimal(12), Decimal(27)))
    assert refused(trial(hole="26", limits=owned)).nearest_hole_mm == 12


LOOSE = st.builds(
    trial,
    st.integers(0, 48).map(lambda n: str(Decimal(n) / 2)),
    st.integers(10, 70).map(lambda n: str(Decimal(n) / 2)),
    st.builds(
        Forming,
        min_wall_mm=st.sampled_from([Decimal("0.5"), Decimal("1.2"), Decimal(2)]),
        min_land_mm=st.sampled_from([Decimal(2), Decimal(5)]),
    ),
    gross_mass_g=st.integers(6, 26).map(Decimal),
    bore_allowance=st.sampled_from([None, Decimal(0), Decimal(2)]),
)


@given(LOOSE)
def test_the_nearest_offers_are_makeable_and_none_nearer_is(one):
    if one.limit_met is None:
        return
    error = refused(one)
    for us in (Decimal(n) / 2 for n in range(49)):
        can = replace(one, size=us_size(us)).limit_met is None
        if us == error.nearest_size_us:
            assert can
        if can:
            assert error.nearest_size_us is not None
            assert abs(error.nearest_size_us - one.size.us) <= abs(us - one.size.us)
    for hole in (Decimal(n) / 2 for n in range(8, 60)):
        can = replace(one, hole_mm=hole).limit_met is None
        if hole == error.nearest_hole_mm:
            assert can
        if can:
            assert error.nearest_hole_mm is not None
            assert abs(error.nearest_hole_mm - one.hole_mm) <= abs(hole - one.hole_mm)
