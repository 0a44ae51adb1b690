"""The coin and the band it becomes, drawn to scale: one unit of a picture is 1 mm.

Three pictures of one scale: the coin with its hole and land, the ring from above, and
the ring cut through, so that its walls can be seen. They are drawn half as large again
as they are, or smaller where the widest would not go on a phone.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, fields
from decimal import Decimal

from pricing.money import arithmetic, half_up, trimmed

MOST_ENLARGED = Decimal("1.5")
WIDEST_MM = Decimal(72)
"""Widest picture on a screen [mm of CSS]; a phone of 320 px is 84 mm wide."""
SHOWN_MM = Decimal("0.01")
EDGE_MM = Decimal(1)
"""Room around what is drawn [mm]."""
FOOT_MM = Decimal("4.5")
"""Room for a measure below it [mm]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Shape:
    """What is drawn; all [mm].

    Attributes:
        coin, hole: diameters.
        land: width of the band.
        outside, inside: diameters of the ring.
        wall_coin_edge, wall_hole_edge: its walls at both edges.
    """

    coin: Decimal
    hole: Decimal
    land: Decimal
    outside: Decimal
    inside: Decimal
    wall_coin_edge: Decimal
    wall_hole_edge: Decimal


@dataclass(frozen=True, slots=True, kw_only=True)
class Frame:
    """A picture's size in its own millimetres and on the page, as attributes.

    ``middle`` is where its middle stands across, and ``foot`` where its measure does.
    """

    view: str
    width: str
    height: str
    left: str
    right: str
    middle: str
    top: str
    foot: str


@dataclass(frozen=True, slots=True, kw_only=True)
class CoinDrawing:
    """The three pictures in numbers, as attributes of SVG [mm].

    Attributes:
        shown: the measures as they are written beside the lines, at 0.01 mm.
        enlarged: how many times as large as life they are.
        coin, ring, cut: each picture's frame.
        radii: of circles, by what they are.
        middles: how far down the middle of the coin and of the ring stands.
        land: where the land begins and ends, on a line to the right.
        walls: corners of both walls in the ring cut through.
        band: width and height of what is between them, and its middle from above.
    """

    shown: Shape
    enlarged: Decimal
    coin: Frame
    ring: Frame
    cut: Frame
    radii: dict[str, str]
    middles: dict[str, str]
    land: tuple[str, str]
    walls: tuple[str, str]
    band: tuple[str, str, str]


def coin_drawing(shape: Shape) -> CoinDrawing:
    """The drawing of a coin and its ring."""
    with arithmetic():
        widest = max(shape.coin, shape.outside) + 2 * EDGE_MM
        enlarged = min(MOST_ENLARGED, WIDEST_MM / widest)
        middle = EDGE_MM + shape.coin / 2
        return CoinDrawing(
            shown=Shape(**{name: half_up(mm, SHOWN_MM) for name, mm in _each(shape)}),
            enlarged=enlarged,
            coin=_frame(shape.coin, shape.coin, enlarged),
            ring=_frame(shape.outside, shape.outside, enlarged),
            cut=_frame(shape.outside, shape.land, enlarged),
            radii={
                name: trimmed(across / 2)
                for name, across in (
                    ("coin", shape.coin),
                    ("hole", shape.hole),
                    ("outside", shape.outside),
                    ("inside", shape.inside),
                )
            },
            middles={
                "coin": trimmed(middle),
                "ring": trimmed(EDGE_MM + shape.outside / 2),
            },
            land=(
                trimmed(middle + shape.hole / 2),
                trimmed(middle + shape.hole / 2 + shape.land),
            ),
            walls=_walls(shape),
            band=(
                trimmed(shape.outside),
                trimmed(shape.land),
                trimmed(EDGE_MM + shape.land / 2),
            ),
        )


def _each(shape: Shape) -> Iterator[tuple[str, Decimal]]:
    return ((field.name, getattr(shape, field.name)) for field in fields(Shape))


def _frame(wide: Decimal, tall: Decimal, enlarged: Decimal) -> Frame:
    width, height = wide + 2 * EDGE_MM, tall + 2 * EDGE_MM + FOOT_MM
    return Frame(
        view=f"0 0 {trimmed(width)} {trimmed(height)}",
        width=f"{trimmed(width * enlarged)}mm",
        height=f"{trimmed(height * enlarged)}mm",
        left=trimmed(EDGE_MM),
        right=trimmed(EDGE_MM + wide),
        middle=trimmed(width / 2),
        top=trimmed(EDGE_MM),
        foot=trimmed(EDGE_MM + tall + 1),
    )


def _walls(shape: Shape) -> tuple[str, str]:
    """The walls cut through; the coin's edge, the thicker end, stands on the bench."""
    top, bottom = EDGE_MM, EDGE_MM + shape.land
    left, right = EDGE_MM, EDGE_MM + shape.outside
    thick, thin = shape.wall_coin_edge, shape.wall_hole_edge
    return (
        _corners(
            (left, top), (left + thin, top), (left + thick, bottom), (left, bottom)
        ),
        _corners(
            (right, top), (right - thin, top), (right - thick, bottom), (right, bottom)
        ),
    )


def _corners(*points: tuple[Decimal, Decimal]) -> str:
    return " ".join(f"{trimmed(across)},{trimmed(down)}" for across, down in points)
