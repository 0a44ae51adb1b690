"""What the bench calls things: parts of money, and what to take care of, in short."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

MONEY_WORDS: Mapping[str, tuple[str, str]] = {
    "sold_price": ("Sold for", "What the buyer paid for the goods, tax and all."),
    "shipping_charged": ("Shipping charged", "The same for sending them."),
    "tax": (
        "Tax in both",
        "All the tax inside these two; left blank, as large a share as planned.",
    ),
    "fees": ("Fees", "What the channel and the payment took."),
    "shipping_paid": ("Shipping paid", "What sending really cost."),
    "recovery_sold": ("Metal sold", "What slug, filings and scrap brought in."),
    "labour_rate": ("Wage of an hour", "For every hour at the bench."),
    "consumables_and_tools": (
        "Consumables and tools",
        "Only if you measured them; else they follow the bench time.",
    ),
}
"""Figures of a job's money → what a person calls them, and what they are."""

PLANNED_MONEY = ("sold_price", "shipping_charged", "tax", "fees", "shipping_paid")
"""Those that the plan names as they are."""

CARE_WORDS: Mapping[str, str] = {
    "heat_and_press": "torch and press",
    "ptfe": "tape off before the torch",
    "liver_of_sulphur": "liver of sulphur away from acid",
    "manganese_alloy": "no manganese dust",
    "zinc_alloy": "zinc fumes",
    "own_coin": "the customer's own coin",
}
"""Cautions that belong at the bench while working → in two or three words."""

OUTCOME_WORDS: Mapping[str, tuple[str, str]] = {
    "open": ("at the bench", "wait"),
    "good": ("good", "good"),
    "scrapped": ("scrapped", "bad"),
}
"""What became of a coin, and how the word is marked."""

_OF_LINES: Mapping[str, str] = {
    "coins": "coins and what they cost",
    "unit_cost": "what the coins cost",
    "attempts": "rings that no coin was written down for",
    "minutes": "minutes",
}


def assumed_words(paths: Iterable[str]) -> list[str]:
    """What was not written down, and is taken as planned, each once.

    >>> assumed_words(["fees", "lines[0].minutes.fold", "lines[1].minutes.punch"])
    ['fees', 'some minutes']
    >>> assumed_words(["tax"])
    ['the share of tax in both']
    """
    return [*dict.fromkeys(map(_assumed, paths))]


def _assumed(path: str) -> str:
    if path == "tax":
        return f"the share of {MONEY_WORDS[path][0].lower()}"
    if path in MONEY_WORDS:
        return MONEY_WORDS[path][0].lower()
    what, _, stage = path.rpartition("].")[2].partition(".")  # lines[0].minutes.fold
    words = _OF_LINES.get(what, what)
    return f"some {words}" if stage else words
