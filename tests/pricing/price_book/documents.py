"""A small valid document, and what becomes of it when it is spoilt."""

import copy
from functools import reduce

import pytest

from pricing.errors import BookRefused
from pricing.price_book import read_price_book

LEFT_OUT = object()

_SMALL = {
    "title": "Bench in the shed",
    "currency": "EUR",
    "timezone": "Europe/Vienna",
    "labour": {"rate_per_hour": "32.00"},
    "consumables": [{"key": "gas", "unit": "min", "price": "0.06"}],
    "tools": [{"key": "cone", "price": "145.00", "salvage": "20", "life_uses": 2500}],
    "stages": [
        {"key": "punch", "title": "Punch", "removes": "slug"},
        {
            "key": "fold",
            "title": "Fold",
            "batch": 2,
            "minutes": "6",
            "minutes_per": {"land_mm": "0.5"},
            "consumables": [{"key": "gas", "quantity": "1"}],
            "tools": ["cone"],
            "scrap": {"tried": 140, "failed": 3},
            "redo": {"rate": "0.03", "to": "punch"},
        },
        {"key": "bore", "title": "Bore", "removes": "bore"},
        {"key": "finish", "title": "Finish", "removes": "finish"},
    ],
    "recovery": {"slug": "0.90"},
    "after_sale": {"rate": "0.04", "share": "0.60"},
    "coin_buying": {"premium": "0.12"},
    "channels": [
        {
            "key": "shop",
            "tax": {"rate": "0.20", "inclusive": True},
            "fees": [{"label": "card", "rate": "0.019", "fixed": "0.25"}],
            "shipping": {"charged": "6.90", "paid": "5.40"},
        }
    ],
    "policies": [
        {
            "key": "retail",
            "target_margin": "0.35",
            "floor_margin": "0.20",
            "rounding": {"step": "5.00", "offset": "-0.05"},
            "dead_band": {"amount": "3.00"},
            "multipliers": {"coin": "1.15"},
            "quantity_breaks": [
                {"from": 5, "target_margin": "0.30"},
                {"from": 10, "target_margin": "0.25"},
            ],
            "stale_spot": {"warn_hours": "20.0"},
        }
    ],
    "extras": [{"key": "ring_box", "price_cost": "2.20"}],
    "forming": {"punches_mm": ["12.7", "15.875", "19.05"]},
    "calibrations": [{"coin": "at_50s_1959_1973", "slug": "0.99"}],
}


def small():
    return copy.deepcopy(_SMALL)


def changed(*changes):
    """The small document with members set, each given as (path, value)."""
    spoilt = small()
    for path, value in changes:
        *way, last = path
        table = reduce(lambda part, step: part[step], way, spoilt)
        if value is LEFT_OUT:
            del table[last]
        elif isinstance(table, list) and last == len(table):
            table.append(value)
        else:
            table[last] = value
    return spoilt


def refused(document):
    with pytest.raises(BookRefused) as refusal:
        read_price_book(document)
    return refusal.value


def faults_of(document):
    """Path → message of every fault, paths as a person writes them."""
    return {fault.dotted: fault.message for fault in refused(document).faults}


def the_fault(path, value):
    """The only fault of the small document with one member changed."""
    found = faults_of(changed((path, value)))
    assert len(found) == 1, found
    return next(iter(found.items()))
