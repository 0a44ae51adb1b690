"""Pictures of figures, drawn on the server as SVG; nothing is asked of anybody.

A picture is one file that needs nothing beside it: it holds no script and no style
attribute, its texts are texts, it says what it shows in its title and description [1],
and it follows the reader's choice of light or dark. Whoever shows one puts the same
figures beside it as a table, and answers with ``policy`` where it is sent as a file.

The library that draws is imported with the first picture, so that a server which
draws none does not pay for it.

References:
    [1] W3C, Accessible Rich Internet Applications 1.2: role img with a name.
"""

from __future__ import annotations

import sys
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from decimal import Decimal
from functools import cache
from typing import Any

from api.web.chart_file import Caption, Finish, policy
from api.web.chart_steps import Step, stacked

__all__ = [
    "Axes", "Caption", "Curve", "Point", "Step", "break_even", "bridge", "line",
    "policy",
]  # fmt: skip

_WIDTH = 640
_TALL = 340
_ROW = 34
_FOOT = 50
_MOST_POINTS = 400
_LABELS = 5
_LONGEST_LABEL = 60

Point = tuple[Decimal, Decimal]
"""Where a figure stands on both axes: across, up."""

Words = Callable[[Decimal], str]
"""How a figure of an axis is written for the reader."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Axes:
    """How the figures along both axes are written; ``across`` runs to the right."""

    across: Words = str
    up: Words = str


@dataclass(frozen=True, slots=True, kw_only=True)
class Curve:
    """Cost and price of a ring against spot.

    Attributes:
        cost, price: corners of both lines, by rising spot [spot, currency].
        marks: what else is told of, such as the break-evens [spot, currency].
    """

    cost: Sequence[Point]
    price: Sequence[Point]
    marks: Sequence[Point] = ()


_PLAIN = Axes()
_SIZES = dict.fromkeys(
    ("label_font_size", "major_label_font_size", "legend_font_size"), 16
)
"""What the library leaves room for; the style sheet says the same [px]."""


def bridge(
    steps: Sequence[Step], caption: Caption, *, words: Words = str, alone: bool = True
) -> bytes:
    """What leads from one sum to another, a row a step, as SVG.

    Args:
        steps: from the first sum to the last, in the order they are read.
        caption: what the picture says of itself.
        words: how the amounts along its foot are written.
        alone: whether its style goes into it; a page that draws it in its own text
            leaves it out and links ``charts.css``.
    """
    chart = _chart("HorizontalStackedBar", Axes(up=words))
    chart.height = _ROW * len(steps) + _FOOT
    chart.x_labels = [step.label for step in reversed(steps)]
    chart.truncate_label = _LONGEST_LABEL
    bars = stacked(steps)
    for lengths in bars.values():
        chart.add("", lengths[::-1])
    names = [kind for kind, _ in bars]
    return _drawn(chart, Finish("bridge", caption, names=names, alone=alone))


def line(
    points: Sequence[Point],
    caption: Caption,
    *,
    axes: Axes = _PLAIN,
    alone: bool = True,
) -> bytes:
    """How one figure moved, as SVG; a few hundred of very many points are drawn.

    Args:
        points: by rising time [any number that grows with time, such as a day's
            ordinal; figure].
        caption: what the picture says of itself.
        axes: how times and figures are written.
        alone: as for ``bridge``.
    """
    chart = _chart("XY", axes)
    seen = _thinned(points)
    chart.add("", _floats(seen))
    chart.x_labels = _spread([across for across, _ in seen])
    return _drawn(chart, Finish("line", caption, names=["spot"], alone=alone))


def break_even(
    curve: Curve, caption: Caption, *, axes: Axes = _PLAIN, alone: bool = True
) -> bytes:
    """Cost and price against spot, with the spots at which something turns, as SVG.

    Args:
        curve: both lines and the marks on them.
        caption: what the picture says of itself.
        axes: how spots and amounts are written.
        alone: as for ``bridge``.
    """
    chart = _chart("XY", axes)
    chart.show_legend = chart.legend_at_bottom = True
    chart.add("Cost", _floats(curve.cost))
    chart.add("Price", _floats(curve.price))
    if curve.marks:
        marks = _floats(curve.marks)
        chart.add("Break-even", marks, stroke=False, show_dots=True, dots_size=6)
    chart.x_labels = _spread([across for across, _ in (*curve.cost, *curve.marks)])
    names = ["cost", "price", "mark"]
    return _drawn(chart, Finish("break-even", caption, names=names, alone=alone))


@cache
def _library() -> Any:
    """The library that draws, without the finder of modules it brings along.

    That one finds maps, which are not drawn here, and would be asked, with a warning
    from Python 3.11, about every module that anybody looks for in vain afterwards.
    """
    import pygal  # noqa: PLC0415 - only who draws pays for it

    sys.meta_path[:] = [
        finder for finder in sys.meta_path if type(finder).__module__ != "pygal"
    ]
    return pygal


def _chart(kind: str, axes: Axes) -> Any:
    """An empty chart of the library, with everything off that pages forbid."""
    library = _library()
    chart = getattr(library, kind)(
        width=_WIDTH, height=_TALL, margin=10, margin_right=30, spacing=8,
        min_scale=3, max_scale=6, show_legend=False, legend_at_bottom_columns=3,
        show_dots=False, no_data_text="", js=(), css=(), no_prefix=True,
        disable_xml_declaration=True, style=library.style.Style(**_SIZES),
    )  # fmt: skip
    chart.value_formatter = _written(axes.up)
    chart.x_value_formatter = _written(axes.across)
    return chart


def _drawn(chart: Any, finish: Finish) -> bytes:
    chart.add_xml_filter(finish)
    text: str = chart.render()
    return text.encode()


def _written(words: Words) -> Callable[[float], str]:
    """The library's figure as the reader is to see it; its floats end in noise."""
    return lambda figure: words(Decimal(f"{figure:.9g}"))


def _floats(points: Sequence[Point]) -> list[tuple[float, float]]:
    return [(float(across), float(up)) for across, up in points]


def _thinned(points: Sequence[Point]) -> Sequence[Point]:
    """Every so many points, and always the last."""
    step = len(points) // _MOST_POINTS + 1
    return [*points[: len(points) - 1 : step], *points[-1:]]


def _spread(across: Sequence[Decimal]) -> list[float]:
    """Where the labels stand: evenly from the first to the last."""
    if not across:
        return []
    low, high = float(min(across)), float(max(across))
    if low == high:
        return [low]
    return [low + (high - low) * place / (_LABELS - 1) for place in range(_LABELS)]
