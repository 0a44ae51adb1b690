"""A line of an order as its page shows it: pictures, cost strip and figures.

Worked out from the document that the wire writes, so that a price in the making and
one that was promised long ago are shown alike.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import timedelta
from decimal import Decimal
from typing import Any

from babel import Locale
from markupsafe import Markup

from api.schemas.estimate_document import EstimateDocument
from api.schemas.quote_documents import QuoteSummaryDocument
from api.web import locales
from api.web.bench.quote_curve import SpotMark, curve_of, spot_marks
from api.web.charts import Axes, Caption, Curve, break_even
from api.web.coin_drawing import CoinDrawing, Shape, coin_drawing
from api.web.cost_strip import CostStrip, SheetLine, cost_strip
from api.web.read_back import read_back
from pricing.metal_line import MetalLine
from pricing.ring_size import ring_size

_LINE = EstimateDocument()
_ORDER = QuoteSummaryDocument()


@dataclass(frozen=True, slots=True, kw_only=True)
class LineShown:
    """One line in full.

    Attributes:
        place: of the order, from 0.
        found: the document of its estimate, figures read back.
        size: as it was asked for, with its system; ``marks`` in the other systems.
        picture: cost and price against spot; None where the spot does not matter.
        spots: the break-evens.
        spot_age: how old the spot price was; None where that is not known.
    """

    place: int
    found: Mapping[str, Any]
    size: str
    marks: str
    drawing: CoinDrawing
    strip: CostStrip
    picture: Markup | None
    spots: tuple[SpotMark, ...]
    spot_age: timedelta | None


@dataclass(frozen=True, slots=True, kw_only=True)
class LineRow:
    """One line in a row: ``unit`` and ``total`` as displayed [currency]."""

    place: int
    coin: str
    size: str
    quantity: int
    unit: Decimal
    total: Decimal
    bound_by: str
    rate: Decimal | None


def order_shown(order: Mapping[str, Any]) -> dict[str, Any]:
    """What an order came to, figures read back."""
    return read_back(order, _ORDER)


def line_rows(lines: Sequence[Mapping[str, Any]]) -> list[LineRow]:
    """Every line of an order in short."""
    return [
        LineRow(
            place=place,
            coin=line["wish"]["coin_name"],
            size=_size(line).label,
            quantity=line["wish"]["quantity"],
            unit=Decimal(line["price"]["unit"]),
            total=Decimal(line["price"]["total"]),
            bound_by=line["price"]["bound_by"],
            rate=None if (rate := line["margin"]["rate"]) is None else Decimal(rate),
        )
        for place, line in enumerate(lines)
    ]


def line_shown(
    place: int,
    line: Mapping[str, Any],
    coin: Mapping[str, Any],
    locale: Locale,
    *,
    exact: MetalLine | None = None,
) -> LineShown:
    """One line in full.

    Args:
        place: of the order, from 0.
        line: the document of its estimate.
        coin: the document of its coin.
        locale: how figures in the picture are written.
        exact: its cost against spot [currency], where that is at hand.
    """
    found, size = read_back(line, _LINE), _size(line)
    return LineShown(
        place=place,
        found=found,
        size=size.label,
        marks=", ".join(
            f"{system.upper()} {mark}"
            for system, mark in size.marks().items()
            if mark and system != size.system
        ),
        drawing=coin_drawing(_shape(found, coin, size.inside_diameter_mm)),
        strip=cost_strip([SheetLine(**each) for each in found["cost"]["lines"]]),
        picture=_picture(found, curve_of(found, exact), locale),
        spots=spot_marks(found),
        spot_age=_age(found["spot"]),
    )


def _size(line: Mapping[str, Any]) -> Any:
    asked = line["wish"]["size"]
    return ring_size(asked["system"], asked["size"])


def _shape(found: Mapping[str, Any], coin: Mapping[str, Any], inside: Decimal) -> Shape:
    forming = found["forming"]
    return Shape(
        coin=Decimal(coin["diameter_mm"]),
        hole=forming["hole_mm"],
        land=forming["land_mm"],
        outside=forming["outside_diameter_mm"],
        inside=inside,
        wall_coin_edge=forming["wall_coin_edge_mm"],
        wall_hole_edge=forming["wall_hole_edge_mm"],
    )


def _age(spot: Mapping[str, Any] | None) -> timedelta | None:
    if spot is None or spot["age_hours"] is None:
        return None
    return timedelta(minutes=int(spot["age_hours"] * 60))


def _picture(
    found: Mapping[str, Any], curve: Curve | None, locale: Locale
) -> Markup | None:
    if curve is None:
        return None
    code = found["currency"]

    def money(amount: Decimal) -> str:
        return locales.money(amount, code, locale)

    cost, spot = found["cost"], found["spot"]["price"]
    said = (
        f"A ring costs {money(cost['per_piece'])} with silver at {money(spot)} a troy "
        f"ounce; its price leaves {money(curve.price[0][1])} for that, after tax, fees "
        "and shipping"
    )
    caption = Caption("Cost of a ring, and what its price leaves for it", said)
    axes = Axes(across=money, up=money)
    drawn = break_even(curve, caption, axes=axes, alone=False)
    return Markup(drawn.decode())  # noqa: S704 - the library escapes every text
