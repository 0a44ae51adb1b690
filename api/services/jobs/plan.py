"""What was promised, taken once from a quote's document and kept with the job.

A job is held to what its quote said, line by line, whatever changes later. So the
figures are copied, and no estimate is made again. A format is never changed: a new
one gets a number and a reader of its own here.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable, Mapping, Sequence
from decimal import Decimal
from functools import lru_cache
from typing import Any

import orjson

from api.ports import StorageUnavailable
from pricing import money
from pricing.margin_check.plan import JobPlan, PlannedLine, PlannedStage
from pricing.money import ONE, ZERO
from pricing.price_book import Calibration

FORMAT = 1

Document = Mapping[str, Any]
Calibrated = Callable[[str], Calibration]
"""What the book of the quote says of a coin's scale readings."""

_MINUTES_STEP = Decimal("0.000001")
_PLANS_KEPT = 256
_MATERIALS = ("consumable", "tool")
_FIGURES = (
    *("goods", "coins", "coin_amount", "recovery", "labour", "overhead"),
    *("minutes", "consumables_and_tools", "other"),
)
_OTHER = ("extra", "packaging", "after_sale")


def plan_text(quote: Document, *, currency: str, calibrated: Calibrated) -> str:
    """The plan of a quote's document as it is kept: canonical JSON.

    Args:
        quote: the document, or the members of one that is not promised to anybody.
        currency: of every amount.
        calibrated: by a coin's key.
    """
    with money.arithmetic():
        members = _plan(quote, calibrated)
    whole = {"format": FORMAT, "currency": currency, **members}
    return json.dumps(whole, sort_keys=True, separators=(",", ":"), default=_exact)


@lru_cache(maxsize=_PLANS_KEPT)
def read_plan(text: str) -> JobPlan:
    """The plan that a job keeps.

    Raises:
        StorageUnavailable: it was written by a newer program.
    """
    document = plan_members(text)
    lines = tuple(_read_line(each) for each in document["lines"])
    amounts = ("sold_price", "shipping_charged", "tax", "fees", "shipping_paid")
    return JobPlan(
        currency=money.currency(document["currency"]),
        lines=lines,
        floor_margin=Decimal(document["floor_margin"]),
        **{name: Decimal(document[name]) for name in amounts},
    )


def plan_outline(text: str) -> JobPlan:
    """Its lines, stages and price alone, in less time. Raises as `read_plan`."""
    document = plan_members(text)
    return JobPlan(
        currency=money.currency(document["currency"]),
        lines=tuple(_outlined(each) for each in document["lines"]),
        sold_price=Decimal(document["sold_price"]),
        shipping_charged=Decimal(document["shipping_charged"]),
    )


def plan_members(text: str) -> Document:
    """The members of a plan's document. Raises as `read_plan`."""
    document: Document = orjson.loads(text)
    number = document.get("format")
    if number != FORMAT:
        raise StorageUnavailable(
            f"a job's plan is kept in format {number}, which this program does not "
            f"know; it reads up to {FORMAT}: a newer program wrote it, install that"
        )
    return document


def _plan(quote: Document, calibrated: Calibrated) -> dict[str, object]:
    order = quote["order"]
    inclusive = quote["channel"]["tax_inclusive"]
    lines = [
        _line(estimate, inclusive=inclusive, calibrated=calibrated)
        for estimate in quote["lines"]
    ]
    sold = sum((line["goods"] for line in lines), ZERO)
    paid = (Decimal(each["price"]["shipping_paid"]) for each in quote["lines"])
    return {
        "lines": lines,
        "sold_price": sold,
        # All that the buyer pays beside the goods, tax and all.
        "shipping_charged": Decimal(order["total"]) - sold,
        "tax": Decimal(order["tax"]),
        "fees": Decimal(order["fees"]),
        "shipping_paid": sum(paid, ZERO),
        "floor_margin": _floor(quote["lines"], [line["goods"] for line in lines]),
    }


def _floor(lines: Sequence[Document], goods: Sequence[Decimal]) -> Decimal:
    """The lines' floors, by what each sells for [share]."""
    floors = [Decimal(line["margin"]["floor"]) for line in lines]
    total = sum(goods, ZERO)
    if not total or len(set(floors)) == 1:
        return max(floors)
    by_goods = sum((x * y for x, y in zip(floors, goods, strict=True)), ZERO)
    return money.half_up(by_goods / total, _MINUTES_STEP)


def _line(
    estimate: Document, *, inclusive: bool, calibrated: Calibrated
) -> dict[str, Any]:
    wish, cost = estimate["wish"], estimate["cost"]
    pieces = Decimal(wish["quantity"])
    starts = Decimal(estimate["spoilage"]["starts_per_good"]) * pieces
    own = estimate["own_coin"] is not None

    def of(*kinds: str) -> Decimal:
        return _sum_of(cost["lines"], kinds) * pieces

    goods, tax = (Decimal(estimate["price"][name]) for name in ("total", "tax"))
    return {
        "coin": wish["coin"] or "",
        "coin_name": wish["coin_name"],
        "size_us": Decimal(wish["size"]["us"]),
        "size": wish["size"],
        "channel": wish["channel"],
        "policy": wish["policy"],
        "extras": wish["extras"],
        "pieces": wish["quantity"],
        "goods": goods if inclusive else goods + tax,
        "coins": money.half_up(starts, money.CHANCE_STEP),
        # A customer's coin costs nothing; what is owed for a lost one is expected.
        "coin_amount": ZERO if own else of("coin"),
        "recovery": -of("recovery"),
        "labour": of("labour"),
        "overhead": of("overhead"),
        "minutes": _bench_minutes(cost) * pieces,
        "consumables_and_tools": of(*_MATERIALS),
        "other": of(*_OTHER, "coin") if own else of(*_OTHER),
        **_removals(estimate, calibrated(wish["coin"] or "")),
        "stages": [_stage(each, starts) for each in estimate["spoilage"]["stages"]],
    }


def _sum_of(lines: Iterable[Document], kinds: Sequence[str]) -> Decimal:
    amounts = (Decimal(each["amount"]) for each in lines if each["kind"] in kinds)
    return sum(amounts, ZERO)


def _bench_minutes(cost: Document) -> Decimal:
    """Attended minutes of one good piece that its labour lines pay for [min].

    The estimate tells minutes and wage with those of the extras, which have lines of
    their own; both are taken out in the same proportion.
    """
    minutes, wage = Decimal(cost["attended_minutes"]), Decimal(cost["labour"])
    bench = _sum_of(cost["lines"], ("labour",))
    shared = len([x for x in cost["lines"] if x["kind"] == "extra"])
    if not shared or not wage:
        return minutes
    return money.minutes(minutes * min(ONE, bench / wage))


def _removals(estimate: Document, found: Calibration) -> dict[str, Decimal]:
    """What the model takes out of a coin, before the scale had a say [g]."""
    forming = estimate["forming"]
    return {
        "slug_g": money.mass_g(Decimal(forming["slug_g"]) / found.slug),
        "bored_g": money.mass_g(Decimal(forming["bored_g"]) / found.bored),
    }


def _stage(stage: Document, starts: Decimal) -> dict[str, Any]:
    minutes, visits = Decimal(stage["minutes"]), Decimal(stage["visits"])
    reached = Decimal(stage["reached"])
    again = visits / reached if reached else ONE
    return {
        "key": stage["stage"],
        "title": stage["title"],
        "minutes": money.half_up(minutes * visits * starts, _MINUTES_STEP),
        "minutes_per_try": money.half_up(minutes * again, _MINUTES_STEP),
        "visits_per_try": money.half_up(again, money.CHANCE_STEP),
        "scrap_chance": Decimal(stage["scrap_chance"]),
        "redo_chance": stage["redo_chance"],
        "redo_to": stage["redo_to"],
    }


def _read_line(line: Document) -> PlannedLine:
    exact = (*_FIGURES, "slug_g", "bored_g")
    return PlannedLine(
        coin_key=line["coin"],
        coin_name=line["coin_name"],
        pieces=line["pieces"],
        stages=tuple(_read_stage(each) for each in line["stages"]),
        **{name: Decimal(line[name]) for name in exact},
    )


def _outlined(line: Document) -> PlannedLine:
    return PlannedLine(
        coin_key=line["coin"],
        coin_name=line["coin_name"],
        pieces=line["pieces"],
        stages=tuple(_stage_named(each["key"]) for each in line["stages"]),
        **dict.fromkeys(_FIGURES, ZERO),
    )


@lru_cache(maxsize=256)
def _stage_named(key: str) -> PlannedStage:
    return PlannedStage(key=key, title="", minutes=ZERO, minutes_per_try=ZERO)


def _read_stage(stage: Document) -> PlannedStage:
    redo = stage["redo_chance"]
    return PlannedStage(
        key=stage["key"],
        title=stage["title"],
        minutes=Decimal(stage["minutes"]),
        minutes_per_try=Decimal(stage["minutes_per_try"]),
        visits_per_try=Decimal(stage["visits_per_try"]),
        scrap_chance=Decimal(stage["scrap_chance"]),
        redo_chance=None if redo is None else Decimal(redo),
        redo_to=stage["redo_to"],
    )


def _exact(figure: object) -> str:
    if not isinstance(figure, Decimal):
        raise TypeError(f"{figure!r} has no place in a plan")
    return format(figure or abs(figure), "f")
