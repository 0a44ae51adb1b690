"""Finger sizes, from any system of the trade to all others."""

from __future__ import annotations

from decimal import Decimal

from api.endpoint import Call, Examples, Reply, Routes
from api.schemas.ring_sizes import RingSizeDocument, RingSizeQuery
from api.security import WINDOW
from pricing.money import half_up
from pricing.ring_size import ring_size

_STEP_MM = Decimal("0.0001")

routes = Routes(
    "ring_sizes",
    title="Ring sizes",
    about="Published charts differ by about 0.1 mm of diameter, so treat every "
    "conversion as good to about that much.",
)


@routes.operation(
    "GET",
    "/v1/ring-sizes",
    scope=WINDOW,
    summary="A finger size in every system",
    query=RingSizeQuery(),
    answers={200: RingSizeDocument()},
    examples=Examples(
        query={"system": "us", "size": "10"},
        answer={
            "label": "US 10",
            "inside_diameter_mm": "19.7612",
            "inside_circumference_mm": "62.0816",
            "us_exact": "10",
            "us": "10",
            "uk": "T 1/2",
            "iso": "62",
            "jp": "21",
            "ch": "22",
        },
    ),
)
def convert_ring_size(call: Call) -> Reply:
    """Convert a finger size.

    The inside diameter links all systems. Marks are the nearest ones of each scale;
    us_exact is the size itself.
    """
    size = ring_size(call.query["system"], call.query["size"])
    return Reply(
        {
            "label": size.label,
            "inside_diameter_mm": half_up(size.inside_diameter_mm, _STEP_MM),
            "inside_circumference_mm": half_up(size.inside_circumference_mm, _STEP_MM),
            "us_exact": size.us,
            **size.marks(),
        }
    )
