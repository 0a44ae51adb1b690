"""The coin and its ring are drawn to one true scale."""

from __future__ import annotations

import re
from decimal import Decimal

import pytest

from api.web.coin_drawing import MOST_ENLARGED, WIDEST_MM, Shape, coin_drawing
from pricing.catalogue import catalogue_coin
from pricing.forming import Shaping, plan_forming
from pricing.ring_size import ring_size

_RADIUS = re.compile('<circle class="(?:metal|hole)"[^>]* r="([^"]+)"')
_SVG = re.compile("<svg class=.true.*?</svg>", re.DOTALL)
COINS = ("at_50s_1959_1973", "us_dollar_1921_1935")


def planned(coin_key, us):
    """A plan of the model, and the shape that is drawn of it."""
    coin, size = catalogue_coin(coin_key), ring_size("us", us)
    plan = plan_forming(coin, Shaping(size=size))
    shape = Shape(
        coin=coin.diameter_mm,
        hole=plan.hole.diameter_mm,
        land=plan.land_mm,
        outside=plan.outside_diameter_mm,
        inside=size.inside_diameter_mm,
        wall_coin_edge=plan.wall_coin_edge_mm,
        wall_hole_edge=plan.wall_hole_edge_mm,
    )
    return coin, size, plan, shape


@pytest.mark.parametrize("coin_key", COINS)
@pytest.mark.parametrize("us", ["6", "10", "12.5"])
def test_radii_are_those_of_the_forming_plan(coin_key, us):
    coin, size, plan, shape = planned(coin_key, us)
    radii = {name: Decimal(r) for name, r in coin_drawing(shape).radii.items()}
    near = Decimal("0.0001")
    assert abs(radii["coin"] * 2 - coin.diameter_mm) <= near
    assert abs(radii["hole"] * 2 - plan.hole.diameter_mm) <= near
    assert abs(radii["outside"] * 2 - plan.outside_diameter_mm) <= near
    assert abs(radii["inside"] * 2 - size.inside_diameter_mm) <= near


def test_the_land_lies_between_hole_and_edge():
    drawn = coin_drawing(planned(COINS[0], "10")[3])
    begins, ends = map(Decimal, drawn.land)
    middle = Decimal(drawn.coin.middle)
    assert begins - middle == Decimal(drawn.radii["hole"])
    assert abs(ends - middle - Decimal(drawn.radii["coin"])) <= Decimal("0.001")


def test_walls_are_as_thick_as_the_plan_has_them():
    shape = planned(COINS[0], "10")[3]
    drawn = coin_drawing(shape)
    left, right = ([*map(_point, corners.split())] for corners in drawn.walls)
    for wall in (left, right):
        (top_out, top), (top_in, _), (low_in, bottom), (low_out, _) = wall
        assert abs(top_in - top_out) == shape.wall_hole_edge
        assert abs(low_in - low_out) == shape.wall_coin_edge
        assert bottom - top == shape.land
    assert right[0][0] - left[0][0] == shape.outside


def _point(corner):
    across, _, down = corner.partition(",")
    return Decimal(across), Decimal(down)


def test_all_pictures_have_one_scale():
    drawn = coin_drawing(planned(COINS[1], "10")[3])
    for frame in (drawn.coin, drawn.ring, drawn.cut):
        _, _, wide, tall = map(Decimal, frame.view.split())
        assert abs(Decimal(frame.width[:-2]) / wide - drawn.enlarged) < Decimal("0.001")
        assert abs(Decimal(frame.height[:-2]) / tall - drawn.enlarged) < Decimal(
            "0.001"
        )
    assert drawn.enlarged == MOST_ENLARGED


def test_a_coin_that_is_too_wide_for_a_phone_is_drawn_smaller():
    shape = planned(COINS[0], "10")[3]
    wide = Shape(
        **{name: getattr(shape, name) for name in Shape.__slots__}
        | {"coin": Decimal(98)}
    )
    drawn = coin_drawing(wide)
    assert drawn.enlarged < 1
    assert Decimal(drawn.coin.width[:-2]) == WIDEST_MM


def test_the_page_draws_those_radii_and_says_them(desk):
    page = desk.get("/bench/quotes/new?coin=at_50s_1959_1973&system=us&size=10").text
    pictures = _SVG.findall(page)
    assert len(pictures) == 3
    radii = [Decimal(r) for one in pictures for r in _RADIUS.findall(one)]
    # A 34 mm coin, a 14.5 mm hole, and the ring of that plan.
    assert radii[:2] == [17, Decimal("7.25")]
    assert radii[2] * 2 == Decimal("24.829")
    for one in pictures:
        assert re.search('role="img" aria-label="[^"]* mm', one)
