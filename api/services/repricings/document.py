"""Repricings as they are told: amounts with the decimals of their currency."""

from __future__ import annotations

import json
from collections.abc import Mapping
from decimal import Decimal
from typing import Any, overload

from api.ports import Place, Repricing, RepricingBand
from api.services.repricings.floors import FloorBand, FloorPage
from api.services.repricings.what_if import WhatIf
from pricing import money


def run_document(run: Repricing) -> dict[str, Any]:
    """A run without its bands."""
    return {
        "id": run.id,
        "status": run.status,
        "version": run.version,
        "created_at": run.created_at,
        "created_by": run.created_by,
        "skus": run.skus,
        "include": [_place(each) for each in run.named],
        "applied_at": run.applied_at,
        "applied_by": run.applied_by,
        "undone_at": run.undone_at,
        "undone_by": run.undone_by,
        **_figures(run.currency, run.counts, run.value_change),
        "book_version": run.book_version,
        "spot": json.loads(run.spot),
    }


def band_document(band: RepricingBand, currency: str) -> dict[str, Any]:
    """A band of a run with what was decided for it."""
    return {
        "sku": band.sku,
        "from": band.size_from,
        "to": band.size_to,
        "old_price": in_currency(band.old_price, currency),
        "new_price": in_currency(band.new_price, currency),
        "old_margin": band.old_margin,
        "new_margin": band.new_margin,
        "decision": band.decision,
        "reason": band.reason,
        "spot_at_floor": band.spot_at_floor,
        "moves": band.moves,
    }


def what_if_document(found: WhatIf) -> dict[str, Any]:
    """What would be decided, with the bands that would have another price."""
    judged = found.judged
    ground, code = judged.ground, judged.ground.book.currency.code
    return {
        "skus": judged.skus,
        **_figures(code, judged.counts(), judged.value_change()),
        "book_version": ground.book.version,
        "spot": json.loads(ground.spot_text()),
        "changes": [band_document(each, code) for each in found.bands],
        "changes_left_out": found.left_out,
    }


def board_document(page: FloorPage) -> dict[str, Any]:
    """Part of the board of what falls to its floor."""
    ground = page.ground
    code = ground.book.currency.code
    return {
        "currency": code,
        "book_version": ground.book.version,
        "spot": json.loads(ground.spot_text()),
        "bands": [_floor(each, code) for each in page.bands],
    }


def _floor(band: FloorBand, currency: str) -> dict[str, Any]:
    return {
        "sku": band.sku,
        "from": band.size_from,
        "to": band.size_to,
        "price": in_currency(band.price, currency),
        "under": band.under,
        "spot_at_floor": band.spot_at_floor,
        "rise": band.rise,
        "margin": band.margin,
        "floor_margin": band.floor,
        "policy": band.policy,
    }


def _figures(
    currency: str, counts: Mapping[str, int], value_change: Decimal
) -> dict[str, Any]:
    return {
        "currency": currency,
        "bands": sum(counts.values()),
        "counts": counts,
        "value_change": in_currency(value_change, currency),
    }


def _place(place: Place) -> dict[str, Any]:
    return {"sku": place.sku, "from": place.size_from}


@overload
def in_currency(value: Decimal, currency: str) -> Decimal: ...
@overload
def in_currency(value: None, currency: str) -> None: ...
@overload
def in_currency(value: Decimal | None, currency: str) -> Decimal | None: ...
def in_currency(value: Decimal | None, currency: str) -> Decimal | None:
    """The amount as its currency is written; as it is where that would change it."""
    if value is None:
        return None
    shown = money.amount(value, money.currency(currency))
    return shown if shown == value else value
