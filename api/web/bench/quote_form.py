"""The form of a quote: its lines moved about, and read as the wire's own document.

A line of the form is what an estimate is asked for. What holds for the whole order,
channel and spot, stands once in the form and in each line of the document; a coin is
picked by its key, or described by figures of its own.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import replace

from api.schemas.quotes import MOST_LINES, QuoteBody
from api.services.quotes.terms import LineAsk, QuoteTerms
from api.web.sent_form import Form
from api.web.typed_numbers import whole_number
from api.web.visit import Visit

COIN, OWN = "_coin", "_own"
"""Of each line, with its number: the key of a coin; whether the customer brings it."""
CHANNEL, SPOT, OPEN = "_channel", "_spot", "_open"
"""Of the whole order: where it is sold, at which spot; the line that is open."""

_PLACE_DIGITS = 2
_OFFER = re.compile("([0-9]{1,2})-([0-9]{1,4}(?:[.][0-9]{1,4})?)", re.ASCII)
_UNSAID = frozenset({"lines-{}-coin-metal"})
Line = dict[str, tuple[str, ...]]


def asked(visit: Visit) -> tuple[list[LineAsk], QuoteTerms]:
    """What the form asks for.

    Raises:
        InvalidInput: with every fault, each beside its field.
    """
    form = visit.form
    whole = replace(visit, form=replace(form, values=_document_values(form)))
    try:
        read = whole.read(QuoteBody())
    finally:
        form.names.update(_fields_of(form))
    lines = read.pop("lines")
    return [LineAsk(**line) for line in lines], QuoteTerms(**read)


def places(form: Form) -> list[int]:
    """The lines that are in the form, numbered from 0 without gaps."""
    return list(range(len(_lines(form))))


def open_place(form: Form) -> int:
    """The line whose fields are shown: the first one at fault, or the one opened."""
    for fault in form.faults:
        numbers = [part for part in fault.name.split("-") if part.isdecimal()]
        if numbers:
            return int(numbers[0])
    return min(_number(form.text(OPEN)) or 0, len(_lines(form)) - 1)


def folded(form: Form) -> list[tuple[str, str]]:
    """Names and values of the lines that are not open, to be sent along unseen."""
    return [
        (name.format(place), value)
        for place, line in enumerate(_lines(form))
        if place != open_place(form)
        for name, values in line.items()
        for value in values
    ]


def moved(form: Form) -> Form:
    """The form after its button: a line more, one less, another one open, or mended."""
    lines, place = _lines(form), open_place(form)
    dropped, opened = _place(form, "drop-"), _place(form, "open-")
    if form.wants("add") and len(lines) < MOST_LINES:
        lines.append(dict(lines[place]))
        place = len(lines) - 1
    elif dropped is not None and dropped < len(lines) > 1:
        del lines[dropped]
        place = min(place - (dropped < place), len(lines) - 1)
    elif opened is not None:
        place = min(opened, len(lines) - 1)
    else:
        _take(form, lines)
    return _with_lines(form, lines, place)


def _take(form: Form, lines: list[Line]) -> None:
    """Put the size or hole that was offered in place of the one that cannot be made."""
    size = _OFFER.fullmatch(form.deed("size-") or "")
    hole = _OFFER.fullmatch(form.deed("hole-") or "")
    if size and int(size[1]) < len(lines):
        lines[int(size[1])] |= {
            "lines-{}-size-system": ("us",),
            "lines-{}-size-size": (size[2],),
        }
    if hole and int(hole[1]) < len(lines):
        lines[int(hole[1])] |= {
            "lines-{}-hole_mm": (hole[2],),
            "lines-{}-band_width_mm": ("",),
        }


def _place(form: Form, begins: str) -> int | None:
    return _number(form.deed(begins) or "")


def _number(text: str) -> int | None:
    return whole_number(text, digits=_PLACE_DIGITS)


def _lines(form: Form) -> list[Line]:
    """The values of each line, by the name of the field with its number left out."""
    found: dict[int, Line] = {}
    for name, values in form.values.items():
        parts = name.split("-")
        if len(parts) > 1 and parts[0] in {"lines", COIN, OWN}:
            place = _number(parts[1]) or 0
            parts[1] = "{}"
            plain = "-".join(parts)
            if plain.count("{") == 1 == plain.count("}"):
                found.setdefault(place, {})[plain] = values
    return [found[place] for place in sorted(found)] or [{}]


def _with_lines(form: Form, lines: list[Line], place: int) -> Form:
    values = {
        name: typed
        for name, typed in form.values.items()
        if name.split("-")[0] not in {"lines", COIN, OWN}
    }
    for number, line in enumerate(lines):
        values |= {name.format(number): typed for name, typed in line.items()}
    return replace(form, values=values | {OPEN: (str(place),)})


def _document_values(form: Form) -> Mapping[str, tuple[str, ...]]:
    """The form's values under the names that the wire's document has for them."""
    values: dict[str, tuple[str, ...]] = {}
    for number, line in enumerate(_lines(form)):
        values |= {f.format(number): typed for f, typed in _line(form, line).items()}
    for name, typed in form.values.items():
        if name.split("-")[0] not in {"lines", COIN, OWN}:
            values[name] = typed
    if form.text(SPOT).strip():
        values["lines-0-spot-price"] = (form.text(SPOT),)
    return values


def _line(form: Form, line: Line) -> Line:
    """One line as the document has it: one coin, whose it is, channel, plain size."""
    key, channel = _text(line, COIN + "-{}"), form.text(CHANNEL)
    described = any(
        name.startswith("lines-{}-coin-") and name not in _UNSAID and typed[-1].strip()
        for name, typed in line.items()
    )
    kept = {
        name: typed
        for name, typed in line.items()
        if name.startswith("lines-")
        and ((described and not key) or not name.startswith("lines-{}-coin-"))
        and not name.startswith("lines-{}-own_coin")
    }
    if key:
        kept["lines-{}-coin"] = (key,)
    if channel:
        kept["lines-{}-channel"] = (channel,)
    if _text(line, OWN + "-{}") == "true":
        owed = _text(line, "lines-{}-own_coin-compensation")
        kept["lines-{}-own_coin-compensation"] = (owed or "0",)
    kept["lines-{}-size-size"] = (_plain_size(line),)
    return kept


def _plain_size(line: Line) -> str:
    """The size with a point, which every system but letters writes it with."""
    return _text(line, "lines-{}-size-size").replace(",", ".")


def _text(line: Line, name: str) -> str:
    return line.get(name, ("",))[-1].strip()


def _fields_of(form: Form) -> dict[tuple[str | int, ...], str]:
    """Which field stands for what the form has in another place than the document."""
    found: dict[tuple[str | int, ...], str] = {
        ("lines", 0, "spot", "price"): SPOT,
        ("lines",): "",
    }
    for place in places(form):
        found |= {
            ("lines", place): f"lines-{place}-size-size",
            ("lines", place, "size"): f"lines-{place}-size-size",
            ("lines", place, "coin"): f"{COIN}-{place}",
            ("lines", place, "channel"): CHANNEL,
        }
    return found
