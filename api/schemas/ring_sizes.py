"""A finger size: as asked for, and in every system."""

from __future__ import annotations

from api.schemas.document import Document
from api.schemas.fields import POSITIVE, Choice, DecimalText, LengthText, Text
from pricing.ring_size import SYSTEMS


class RingSizeQuery(Document):
    """A size in one of the systems."""

    system = Choice(
        SYSTEMS,
        required=True,
        metadata={
            "description": "us; uk (letters); iso (inside circumference in mm, ISO "
            "8653); jp; ch (circumference less 40: CH, IT, ES, NL); diameter_mm; "
            "circumference_mm"
        },
    )
    size = Text(
        least=1,
        most=20,
        required=True,
        metadata={"description": "The size as the system writes it: 10, T 1/2, 62."},
    )


def _mark(what: str) -> Text:
    return Text(
        most=20,
        required=True,
        allow_none=True,
        metadata={"description": f"Nearest {what}; null outside its scale."},
    )


class RingSizeDocument(Document):
    """A finger size in every system, all by way of the inside diameter."""

    label = Text(
        most=60,
        required=True,
        metadata={"description": "The size as it was asked for, written plainly."},
    )
    inside_diameter_mm = LengthText(
        required=True,
        bounds=POSITIVE,
        metadata={"description": "Inside diameter [mm], to 0.0001 mm."},
    )
    inside_circumference_mm = LengthText(
        required=True,
        bounds=POSITIVE,
        metadata={"description": "Inside circumference [mm], to 0.0001 mm."},
    )
    us_exact = DecimalText(
        required=True,
        metadata={"description": "The exact US number, to a millionth."},
    )
    us = _mark("quarter US size")
    uk = _mark("half UK letter (BS 6820)")
    iso = _mark("ISO 8653 mark")
    jp = _mark("Japanese number")
    ch = _mark("number of CH, IT, ES and NL")
