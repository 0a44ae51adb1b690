"""Pictures of figures: what they hold, what they say, and what drawing costs."""

from __future__ import annotations

import re
import subprocess
import sys
from base64 import b64encode
from datetime import date
from decimal import Decimal
from hashlib import sha256
from xml.etree import ElementTree as ET

import pytest
from hypothesis import given
from hypothesis import strategies as st

from api.web import charts
from api.web.chart_steps import BARS, Step, stacked

SVG = "{http://www.w3.org/2000/svg}"
CAPTION = charts.Caption("The bridge of <a week> & more", "From 100 to 5.5.")
STEPS = (
    Step(label="Planned 100.00", amount=Decimal(100), whole=True),
    Step(label="Price −4.20", amount=Decimal("-4.20")),
    Step(label="Spoilage −110.00", amount=Decimal(-110)),
    Step(label="Recovery 19.70", amount=Decimal("19.70")),
    Step(label="Realised 5.50", amount=Decimal("5.50"), whole=True),
)
SPOTS = tuple((Decimal(739_000 + day), Decimal(27 + day % 3)) for day in range(30))
CURVE = charts.Curve(
    cost=((Decimal(15), Decimal(40)), (Decimal(45), Decimal(80))),
    price=((Decimal(15), Decimal(70)), (Decimal(45), Decimal(70))),
    marks=((Decimal("37.5"), Decimal(70)),),
)


def pictures(**how):
    return {
        "bridge": charts.bridge(STEPS, CAPTION, **how),
        "line": charts.line(SPOTS, CAPTION, **how),
        "break-even": charts.break_even(CURVE, CAPTION, **how),
    }


def texts(picture):
    tree = ET.fromstring(picture)  # noqa: S314 - our own
    return ["".join(one.itertext()) for one in tree.iter(f"{SVG}text")]


@pytest.mark.parametrize("kind", ["bridge", "line", "break-even"])
@pytest.mark.parametrize("alone", [True, False])
def test_a_picture_holds_nothing_that_a_strict_policy_forbids(kind, alone):
    picture = pictures(alone=alone)[kind]
    tree = ET.fromstring(picture)  # noqa: S314 - our own
    tags = {one.tag.removeprefix(SVG) for one in tree.iter()}
    assert tags <= {"svg", "title", "desc", "style", "g", "path", "rect", "circle",
                    "text"}  # fmt: skip
    assert ("style" in tags) is alone
    names = {name for one in tree.iter() for name in one.attrib}
    assert not {name for name in names if name.startswith(("on", "style", "{"))}
    assert b"<!--" not in picture
    assert b"<?" not in picture
    assert re.findall(rb"https?://[^\"]*", picture) == [b"http://www.w3.org/2000/svg"]


@pytest.mark.parametrize("kind", ["bridge", "line", "break-even"])
def test_a_picture_says_what_it_shows_first_and_points_at_it(kind):
    tree = ET.fromstring(pictures()[kind])  # noqa: S314 - our own
    title, desc = list(tree)[:2]
    assert (title.tag, title.text) == (f"{SVG}title", CAPTION.title)
    assert (desc.tag, desc.text) == (f"{SVG}desc", CAPTION.description)
    assert tree.get("role") == "img"
    assert tree.get("aria-labelledby") == f"{title.get('id')} {desc.get('id')}"
    assert tree.get("class") == f"chart {kind}"


def test_two_pictures_in_one_page_share_no_id():
    other = charts.Caption("Another", "From 1 to 2.")
    both = charts.bridge(STEPS, CAPTION) + charts.bridge(STEPS, other)
    ids = re.findall(rb' id="([^"]*)"', both)
    assert len(set(ids)) == len(ids) == 4


def test_a_bridge_is_read_from_above_and_its_foot_is_in_the_words_given():
    words = texts(charts.bridge(STEPS, CAPTION, words=lambda value: f"{value:.0f} EUR"))
    labels = [step.label for step in STEPS]
    assert sorted(labels, key=words.index) == labels[::-1]  # drawn from the ground up
    assert "100 EUR" in words


def test_what_falls_is_told_from_what_rises():
    picture = charts.bridge(STEPS, CAPTION).decode()
    of_kind = {
        kind: len(re.findall(rf'class="series {kind}"', picture)) for kind in BARS
    }
    assert all(of_kind.values())


def test_a_line_is_drawn_from_its_first_point_to_its_last_with_days_as_given():
    axes = charts.Axes(across=lambda day: date.fromordinal(int(day)).isoformat())
    words = texts(charts.line(SPOTS, CAPTION, axes=axes))
    ends = [date.fromordinal(739_000 + day).isoformat() for day in (0, 29)]
    assert set(ends) <= set(words)


def test_very_many_points_are_thinned_and_the_last_stays():
    many = [(Decimal(n), Decimal(n % 7)) for n in range(100_000)]
    picture = charts.line(many, CAPTION)
    assert len(picture) < 30_000
    assert "99999" in texts(picture)


@pytest.mark.parametrize("points", [(), SPOTS[:1], ((SPOTS[0]), (SPOTS[0]))])
def test_a_line_of_hardly_any_points_is_a_picture_still(points):
    assert ET.fromstring(charts.line(points, CAPTION))  # noqa: S314


def test_break_evens_are_named_in_the_key_only_where_there_are_any():
    assert texts(charts.break_even(CURVE, CAPTION))[-3:] == [
        "Cost", "Price", "Break-even",
    ]  # fmt: skip
    bare = charts.Curve(cost=CURVE.cost, price=CURVE.price)
    assert "Break-even" not in texts(charts.break_even(bare, CAPTION))


def test_the_policy_lets_the_style_of_a_picture_through_and_nothing_else():
    style = ET.fromstring(pictures()["bridge"]).find(f"{SVG}style")  # noqa: S314
    digest = b64encode(sha256(style.text.encode()).digest()).decode()
    assert f"style-src 'sha256-{digest}'" in charts.policy()
    assert "default-src 'none'" in charts.policy()


def test_the_same_figures_make_the_same_bytes():
    assert pictures() == pictures()


amounts = st.decimals(min_value=-10_000, max_value=10_000, places=2)


@given(st.lists(amounts, min_size=1, max_size=14))
def test_bars_stand_where_the_amounts_before_them_end(parts):
    steps = [Step(label="", amount=Decimal(0), whole=True)]
    steps += [Step(label="", amount=part) for part in parts]
    bars, reached = stacked(steps), Decimal(0)
    for row, part in enumerate(parts, start=1):
        low, high = sorted((reached, reached + part))
        reached += part
        above = {kind: bars[kind, False][row] for kind in BARS}
        below = {kind: bars[kind, True][row] for kind in BARS}
        top, ground = sum(above.values()), sum(below.values())
        assert top == pytest.approx(float(max(high, 0)), abs=1e-6)
        assert ground == pytest.approx(float(min(low, 0)), abs=1e-6)
        seen = sum(abs(one[kind]) for one in (above, below) for kind in BARS[1:])
        assert seen == pytest.approx(float(abs(part)), abs=1e-6)


def test_the_library_that_draws_is_loaded_with_the_first_picture_and_not_before():
    code = (
        "import sys\n"
        "from api.web import charts\n"
        "print('pygal' in sys.modules)\n"
        "charts.line([], charts.Caption('a', 'b'))\n"
        "print('pygal' in sys.modules)\n"
    )
    run = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True
    )
    assert run.stdout.split() == ["False", "True"]


def test_drawing_leaves_the_way_modules_are_found_as_it_was():
    charts.bridge(STEPS, CAPTION)
    assert all(hasattr(finder, "find_spec") for finder in sys.meta_path)
