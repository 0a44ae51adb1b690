"""The bridge from planned to realised margin, of a job or of a week."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal

from babel import Locale
from markupsafe import Markup

from api.services.margin_checks.flags import PART_WORDS
from api.web import locales
from api.web.charts import Caption, Step, bridge


@dataclass(frozen=True, slots=True, kw_only=True)
class MarginChange:
    """A margin as it was planned and as it came, and what lies between [currency].

    Attributes:
        name: of the job or week.
        parts: what changed it, by name; they add up to the difference.
        currency: an ISO 4217 code.
    """

    name: str
    planned: Decimal
    realised: Decimal
    parts: Mapping[str, Decimal]
    currency: str


def in_page(change: MarginChange, locale: Locale) -> Markup:
    """The bridge, drawn into the page, whose style sheet it takes."""
    drawn = bridge_file(change, locale, alone=False)
    return Markup(drawn.decode())  # noqa: S704 - the library escapes every text


def bridge_file(change: MarginChange, locale: Locale, *, alone: bool = True) -> bytes:
    """The bridge as a picture of its own, or as it stands in a page."""

    def money(amount: Decimal) -> str:
        return locales.money(amount, change.currency, locale)

    def whole(name: str, amount: Decimal) -> Step:
        return Step(label=f"{name} margin  {money(amount)}", amount=amount, whole=True)

    steps = (
        whole("Planned", change.planned),
        *(
            Step(
                label=f"{PART_WORDS[name].capitalize()}  {money(amount)}", amount=amount
            )
            for name, amount in change.parts.items()
            if amount
        ),
        whole("Realised", change.realised),
    )
    title = f"From planned to realised margin, {change.name}"
    caption = Caption(title, "; ".join(step.label for step in steps))
    return bridge(steps, caption, words=money, alone=alone)
