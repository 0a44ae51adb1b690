"""A page that shows every component, in every state it has."""

from __future__ import annotations

from datetime import UTC, datetime
from decimal import Decimal
from typing import Any

from api.schemas.fields import (
    POSITIVE,
    SHARE,
    Choice,
    Document,
    MoneyText,
    RateText,
    StrictBoolean,
    StrictInteger,
    Text,
)
from api.web.pages import Page, Pages, Redirect
from api.web.visit import Visit

pages = Pages(
    "style",
    title="The look of the bench",
    done={"tried": "It was read; nothing is kept."},
)

ADDRESS = "/bench/style"
FINISHES = ("matt", "satin", "bright")


class Sample(Document):
    """A document for trying the fields."""

    name = Text(most=80, required=True)
    price = MoneyText(bounds=POSITIVE, required=True)
    margin = RateText(bounds=SHARE)
    rings = StrictInteger(least=1, most=100)
    finish = Choice(FINISHES)
    second = Choice(FINISHES)
    boxed = StrictBoolean()
    note = Text(most=500, lines=True)


@pages.get(ADDRESS)
def style(_: Visit) -> Page:
    """Every component."""
    return Page(
        "bench/style.html",
        {
            "finishes": [(one, one.capitalize()) for one in FINISHES],
            "instant": datetime(2026, 11, 25, 15, 4, tzinfo=UTC),
            "amounts": [Decimal("1189.95"), Decimal("89.90"), Decimal("-12.40")],
            "rate": Decimal("0.3512"),
        },
    )


@pages.post(ADDRESS, again=style, once=True)
def try_fields(visit: Visit) -> Redirect:
    """Read the fields, and keep nothing."""
    visit.read(Sample())
    return Redirect(ADDRESS, done="tried")


@pages.live(ADDRESS, part="heard", template="bench/style_heard.html")
def heard(visit: Visit) -> dict[str, Any]:
    """What was understood so far."""
    return {"read": visit.read(Sample())}
