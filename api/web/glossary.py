"""The words of the bench, what they mean and how each figure is worked out.

The texts are data, in ``glossary.csv`` beside this file. What a page links to as
``/bench/words#<key>`` is one of these keys.
"""

from __future__ import annotations

import csv
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files

from pricing.cautions import LAW, Caution, caution_texts

_BLANKS = {
    "law": LAW,
    "parts": "…",
    "holds": "may hold",
    "figures": "some figures",
}
"""What stands in a caution where it is not about one coin."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Word:
    """A word of the trade or of this program.

    Attributes:
        meaning: in one or two sentences.
        formula: how the figure is worked out; '' where it is none.
    """

    key: str
    title: str
    meaning: str
    formula: str


@cache
def glossary() -> Mapping[str, tuple[Word, ...]]:
    """Every word, by the group it belongs to, in file order.

    >>> glossary()["From coin to ring"][3].formula
    '(coin diameter − hole) ÷ 2'
    """
    text = files("api.web").joinpath("glossary.csv").read_text("utf-8")
    found: dict[str, list[Word]] = {}
    for row in csv.DictReader(text.splitlines(), strict=True):
        found.setdefault(row.pop("group"), []).append(Word(**row))
    return {group: tuple(words) for group, words in found.items()}


@cache
def all_cautions() -> tuple[tuple[Caution, str], ...]:
    """What to watch at the bench and with buyers, each with its words.

    >>> len(all_cautions()) == len(caution_texts())
    True
    """
    cautions = caution_texts().values()
    return tuple((one, one.text.format_map(_BLANKS)) for one in cautions)
