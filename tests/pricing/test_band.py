from dataclasses import replace
from decimal import Decimal
from math import pi, sqrt

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import quad

from pricing.band import (
    Band,
    bore_allowance,
    fold,
    mean_thickness_mm,
    natural_size_us,
)
from tests.oracles.workshops import DOLLAR, silver_coin
from tests.thoroughness import thorough

TINY = 1e-9  # a part of the land too short to hold any metal [mm]


def inside_squared(band, r):
    """R_in(r)² at distance r from the coin's centre."""
    across = band.hole + 2 * band.land
    return band.pre_radius**2 + band.thickness * across - 2 * band.thickness * r


def integrated(band, integrand, *, bend=0.0):
    """The integral over the land, from the hole's edge to the coin's edge.

    It is taken in two parts where the integrand has a bend at that radius.
    """
    edge, rim = band.hole / 2, band.hole / 2 + band.land
    middle = min(max(bend, edge), rim)
    parts = (edge, middle), (middle, rim)
    return sum(quad(integrand, a, b)[0] for a, b in parts if b - a > TINY)


def bored(band):
    """∫ π·(R_f² − R_in(r)²) dr where positive, by numeric integration."""
    target = band.final_radius**2

    def slice_area(r):
        return pi * max(target - inside_squared(band, r), 0)

    first_cut = (inside_squared(band, 0) - target) / (2 * band.thickness)
    return integrated(band, slice_area, bend=first_cut)


@st.composite
def bands(draw):
    """A coin of 15 to 45 mm punched and folded, bored by nothing up to all of it."""
    across = draw(st.floats(15, 45))
    hole = across * draw(st.floats(0.2, 0.9))
    pre = draw(st.floats(5, 13))
    return Band(
        land=(across - hole) / 2,
        thickness=draw(st.floats(0.8, 3.5)),
        hole=hole,
        pre_radius=pre,
        final_radius=pre + draw(st.just(0.0) | st.floats(0.01, 4)),
    )


@settings(max_examples=thorough(100, 1000))
@given(bands())
def test_bored_volume_is_the_integral_over_the_land(band):
    assert band.bored_volume == pytest.approx(bored(band), rel=1e-6, abs=1e-6)


@given(bands())
def test_folding_keeps_the_volume_of_the_land(band):
    outside = band.outside_radius**2
    folded = integrated(band, lambda r: pi * (outside - inside_squared(band, r)))
    rim, edge = band.hole / 2 + band.land, band.hole / 2
    assert folded == pytest.approx(pi * (rim**2 - edge**2) * band.thickness, rel=1e-9)


@given(bands())
def test_walls_lie_between_the_finger_and_the_outside(band):
    inner = sqrt(inside_squared(band, band.hole / 2))
    assert band.wall_coin_edge == pytest.approx(band.outside_radius - band.final_radius)
    assert band.wall_hole_edge == pytest.approx(
        band.outside_radius - max(inner, band.final_radius)
    )
    assert band.wall_hole_edge <= band.wall_coin_edge + 1e-12


def test_a_ring_brought_to_its_very_size_loses_nothing_to_boring():
    band = Band(land=8, thickness=2, hole=14, pre_radius=9, final_radius=9)
    assert band.bored_volume == 0
    # R_o² = 81 + 2 × 30 = 141; at the hole's edge R_in² = 141 − 2 × 14 = 113
    assert band.wall_coin_edge == pytest.approx(sqrt(141) - 9)
    assert band.wall_hole_edge == pytest.approx(sqrt(141) - sqrt(113))


def test_boring_that_cuts_the_whole_land_follows_the_other_formula():
    # R_f² − R_pre² = 40 is over 2·t·land = 32: even the hole's edge is cut.
    band = Band(land=8, thickness=2, hole=14, pre_radius=9, final_radius=11)
    # V = π·[(R_f² − R_o²)·land + t·((D/2)² − (d/2)²)]
    assert band.bored_volume == pytest.approx(
        pi * ((121 - 141) * 8 + 2 * (15**2 - 7**2))
    )
    assert band.bored_volume == pytest.approx(bored(band))
    assert band.wall_hole_edge == pytest.approx(band.wall_coin_edge)


def test_both_formulas_meet_where_boring_just_reaches_the_holes_edge():
    # 2·t·land = 32 = R_f² − R_pre²
    band = Band(land=8, thickness=2, hole=14, pre_radius=9, final_radius=sqrt(113))
    wider = replace(band, final_radius=band.final_radius + 1e-9)
    assert band.bored_volume == pytest.approx(pi * 32**2 / 8)
    assert wider.bored_volume == pytest.approx(band.bored_volume, rel=1e-6)


def test_boring_to_the_outside_leaves_nothing():
    band = Band(land=8, thickness=2, hole=14, pre_radius=9, final_radius=sqrt(141))
    assert band.bored_volume == pytest.approx(pi * 2 * (15**2 - 7**2))


def test_a_thicker_coin_is_bored_less():
    thin = Band(land=8, thickness=1.8, hole=14, pre_radius=9, final_radius=9.5)
    assert replace(thin, thickness=2.2).bored_volume < thin.bored_volume


def test_mean_thickness_follows_from_mass_and_density_not_from_the_rim():
    # 26.73 g ÷ 10.3138 g/cm³ = 2591.7 mm³; ÷ (π·38.1²/4 = 1140.09 mm²) = 2.2732 mm
    found = mean_thickness_mm(DOLLAR, Decimal("26.73"))
    assert found == pytest.approx(2.2732, abs=1e-4)
    assert found != pytest.approx(float(DOLLAR.rim_thickness_mm), abs=0.1)


def test_fold_starts_at_the_size_less_the_bore_allowance():
    band = fold(
        DOLLAR,
        size_us=Decimal(10),
        hole_mm=Decimal("15.875"),
        mass_g=Decimal("26.73"),
    )
    # inside diameters: size 8 0.458 + 0.256 = 0.714 in, size 10 0.778 in
    assert band.pre_radius == pytest.approx(25.4 * 0.714 / 2)
    assert band.final_radius == pytest.approx(25.4 * 0.778 / 2)
    assert band.land == pytest.approx((38.1 - 15.875) / 2)
    assert band.hole == pytest.approx(15.875)


def test_the_coins_own_bore_allowance_comes_first():
    assert bore_allowance(silver_coin(bore_allowance=Decimal("0.25")), 3.0) == Decimal(
        "0.25"
    )


@pytest.mark.parametrize(
    ("thickness", "sizes"),
    [(2.3, "2"), (2.0, "2"), (1.99, "1.5"), (1.2, "1"), (1.1, "0.5"), (0.4, "0.5")],
)
def test_a_thick_coin_is_bored_more_sizes_than_a_thin_one(thickness, sizes):
    coin = silver_coin(bore_allowance=None)
    assert bore_allowance(coin, thickness) == Decimal(sizes)


def test_natural_size_is_the_coins_own_or_seven_tenths_of_the_diameter():
    assert natural_size_us(silver_coin(natural_size=Decimal(13))) == Decimal(13)
    # 30 mm × 0.70 = 21 mm = 0.826772 in; (0.826772 − 0.458) ÷ 0.032 = 11.5241
    assert natural_size_us(silver_coin()) == Decimal("11.52")
