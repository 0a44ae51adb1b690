"""The bands of a run, as addresses and forms name them and pages show them."""

from __future__ import annotations

import re
from decimal import Decimal
from typing import Any
from urllib.parse import urlencode

from api.ports import (
    BAND_DECISIONS,
    BandDecision,
    BandFilter,
    Place,
    Repricing,
    RepricingBand,
)
from api.services.paging import MOST_ON_A_PAGE
from api.services.repricings.pages import RepricedBands
from api.web.bench.repricings import ADDRESS
from api.web.visit import Visit
from pricing.errors import InvalidInput
from pricing.money import trimmed

ON_A_PAGE = 50
REVIEW_ON_A_PAGE = 60
MOST_AT_ONCE = 1000
"""So many bands in review can be named by one tick [count]."""
FIRST_LOOKED_AT = ("review", "raise", "lower", "blocked", "hold", "locked")
"""Which bands are shown where none are asked for: the first that there are."""
_NAMED = re.compile(r"([A-Za-z0-9._-]{1,64})\|([0-9]{1,3}(?:\.[0-9]{1,2})?)", re.ASCII)
_DECISIONS: dict[str, BandDecision] = {name: name for name in BAND_DECISIONS}


def ticked(visit: Visit) -> tuple[str, ...]:
    """Names of the bands that are ticked, each once."""
    return tuple(dict.fromkeys(visit.form.values.get("include", ())))


def name_of(band: RepricingBand) -> str:
    """A band as a form names it."""
    return f"{band.sku}|{trimmed(band.size_from)}"


def _place(name: str) -> Place:
    found = _NAMED.fullmatch(name)
    if found is None:
        raise InvalidInput("load the page again; it names a band that cannot be")
    return Place(found[1], Decimal(found[2]))


def named(visit: Visit, run: Repricing) -> tuple[Place, ...]:
    """The bands in review that are to change: those ticked, or all of them."""
    if not visit.form.chosen("_all", "true"):
        return tuple(map(_place, ticked(visit)))
    found: list[Place] = []
    while True:
        page = visit.services.repricings.bands(
            run,
            BandFilter(decision="review"),
            limit=MOST_ON_A_PAGE,
            past=found[-1] if found else None,
        )
        found += [Place(band.sku, band.size_from) for band in page.bands]
        if not page.after or len(found) >= MOST_AT_ONCE:
            return tuple(found)


def in_review(visit: Visit, run: Repricing) -> RepricedBands:
    """Bands that wait for a word, from where the form has come to."""
    begun = visit.form.text("_from")
    found: RepricedBands = visit.services.repricings.bands(
        run,
        BandFilter(decision="review"),
        limit=REVIEW_ON_A_PAGE,
        past=_place(begun) if begun else None,
    )
    return found


def looked_at(visit: Visit, run: Repricing) -> dict[str, Any]:
    """The bands that the address asks for, and the ways to others."""
    query = visit.query
    decision = query.get("decision", "")
    if decision not in {*BAND_DECISIONS, "all"}:
        there = (name for name in FIRST_LOOKED_AT if run.counts.get(name))
        decision = next(there, "all")
    sku = query.get("sku", "").strip()
    wanted = BandFilter(decision=_DECISIONS.get(decision), sku=sku or None)
    before = query.get("before", "")
    past = before or query.get("past", "")
    found = visit.services.repricings.bands(
        run,
        wanted,
        limit=ON_A_PAGE,
        past=_place(past) if past else None,
        before=bool(before),
    )
    chosen = {"decision": decision} | ({"sku": sku} if sku else {})
    ends = [name_of(band) for band in found.bands]
    return {
        "bands": found.bands,
        "decision": decision,
        "sku": sku,
        "newer": _way(run, chosen, before=ends[0]) if ends and found.before else "",
        "older": _way(run, chosen, past=ends[-1]) if ends and found.after else "",
    }


def _way(run: Repricing, chosen: dict[str, str], **more: str) -> str:
    return f"{ADDRESS}/{run.id}?{urlencode(chosen | more)}"
