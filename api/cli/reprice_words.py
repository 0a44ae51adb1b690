"""Repricings in words, for the maker at a terminal."""

from __future__ import annotations

import json
import textwrap
from collections.abc import Iterator, Sequence
from decimal import Decimal

import click

from api.cli.output import columns, counted, facts, instant, one_line, table
from api.ports import Repricing, RepricingBand
from api.services.repricings.document import in_currency
from pricing import money

SHARE_STEP = Decimal("0.001")
"""A share is told to the tenth of a per cent."""
NARROWEST = 40
"""Reasons are not folded any closer than this [signs a line]."""
_WORDS = {
    "raise": "to raise",
    "lower": "to lower",
    "review": "in review",
    "hold": "stay",
    "locked": "locked",
    "blocked": "blocked",
}


def whole(run: Repricing, bands: Sequence[RepricingBand]) -> str:
    """All of a run, and some of its bands."""
    told = overview(run), band_list(run, bands, fits=columns()), _next(run, bands)
    return "\n\n".join(filter(None, told))


def overview(run: Repricing) -> str:
    """What a run stands on, and its totals."""
    counts = [
        f"{run.counts[name]} {said}"
        for name, said in _WORDS.items()
        if run.counts[name]
    ]
    return facts(
        {
            "repricing": run.id,
            "status": run.status,
            "made": _by(instant(run.created_at), run.created_by),
            "applied": _by(instant(run.applied_at), run.applied_by),
            "undone": _by(instant(run.undone_at), run.undone_by),
            "silver": _silver(run),
            "price book": f"version {run.book_version}",
            "listings": "all" if run.skus is None else ", ".join(run.skus),
            "bands": ", ".join(counts) or "none",
            "change": f"{_signed(run.value_change, run.currency)} {run.currency}",
            "included": ", ".join(
                f"{place.sku}:{money.trimmed(place.size_from)}" for place in run.named
            ),
        }
    )


def band_list(
    run: Repricing, bands: Sequence[RepricingBand], *, fits: int | None = None
) -> str:
    """Bands with what is decided for them, and how many more there are.

    Reasons stand below their bands where they do not fit beside them [signs a line].
    """
    if not bands:
        return ""
    shown = table(_HEADINGS, [_row(run, band) for band in bands], right="  rrrrr")
    widest = max(map(len, click.unstyle(shown).splitlines()))
    if fits is not None and widest > fits:
        shown = _with_reasons_below(run, bands, fits)
    return "\n".join((shown, *_left_out(run, bands)))


_HEADINGS = ("sku", "sizes", "old", "new", "change", "margin", "", "decision", "why")


def _with_reasons_below(
    run: Repricing, bands: Sequence[RepricingBand], fits: int
) -> str:
    rows = [_row(run, band)[:-1] for band in bands]
    head, *lines = table(_HEADINGS[:-1], rows, right="  rrrrr").splitlines()
    shown = [head]
    for line, band in zip(lines, bands, strict=True):
        reason = textwrap.wrap(one_line(band.reason), max(fits, NARROWEST) - 2)
        shown += [line, *(f"  {part}" for part in reason)]
    return "\n".join(shown)


def _row(run: Repricing, band: RepricingBand) -> tuple[object, ...]:
    return (
        band.sku,
        _sizes(band),
        in_currency(band.old_price, run.currency),
        in_currency(band.new_price, run.currency),
        _change(band),
        _percent(band.old_margin),
        _percent(band.new_margin),
        band.decision,
        band.reason,
    )


def _sizes(band: RepricingBand) -> str:
    first, last = money.trimmed(band.size_from), money.trimmed(band.size_to)
    return first if first == last else f"{first}-{last}"


def _change(band: RepricingBand) -> str:
    if band.new_price is None:
        return ""
    with money.arithmetic():
        share = band.new_price / band.old_price - 1
    return signed_percent(share)


def signed_percent(share: Decimal) -> str:
    """A change as a person writes it.

    >>> signed_percent(Decimal("0.0204")), signed_percent(Decimal("-0.1"))
    ('+2 %', '-10 %')
    """
    with money.arithmetic():
        text = money.percent(money.half_up(share, SHARE_STEP))
    return text if text.startswith("-") else f"+{text}"


def _percent(rate: Decimal | None) -> str:
    return "" if rate is None else money.percent(money.half_up(rate, SHARE_STEP))


def _left_out(run: Repricing, bands: Sequence[RepricingBand]) -> Iterator[str]:
    shown = [band.decision for band in bands]
    for name in ("raise", "lower", "review", "blocked"):
        left = run.counts[name] - shown.count(name)
        if left > 0 and shown.count(name):
            yield f"and {left} more {_WORDS[name]}"


def _next(run: Repricing, bands: Sequence[RepricingBand] = ()) -> str:
    """What can be done now."""
    if run.status == "applied":
        return f"Take it back: fineweight reprice undo {run.id}"
    if run.status == "undone" or not any(run.counts[name] for name in _MOVING):
        return ""
    apply = f"fineweight reprice apply {run.id}"
    waiting = (f"--include {_named(x)}" for x in bands if x.decision == "review")
    include = next(waiting, "--include SKU:FROM")
    if not run.counts["review"]:
        return f"Apply it: {apply}"
    if run.counts["review"] == sum(run.counts[name] for name in _MOVING):
        return f"Nothing changes but what is named: {apply} {include}"
    return (
        f"Apply it: {apply}\n"
        f"Bands in review stay as they are, unless each is named: {include}"
    )


_MOVING = ("raise", "lower", "review")


def _named(band: RepricingBand) -> str:
    """A band as `--include` takes it."""
    return f"{band.sku}:{money.trimmed(band.size_from)}"


def not_moved(moved: Decimal, least: Decimal) -> str:
    """That nothing has to be done."""
    return (
        f"Silver has moved {signed_percent(moved)} since the repricing applied last, "
        f"less than {money.percent(least)}: nothing to do."
    )


def to_be_asked(run: Repricing, named: int) -> str:
    """The question before the prices change."""
    counts = run.counts
    waiting = counts["review"] - named
    stays = f"; {waiting} in review stay as they are" if waiting > 0 else ""
    moving = counts["raise"] + counts["lower"] + named
    moved = counted(moving, "band", "bands")
    return f"\nChange the prices of {moved}{stays}?"


def applied(run: Repricing) -> str:
    """That the prices are in force, and how to take them back."""
    moving = run.counts["raise"] + run.counts["lower"] + len(run.named)
    if moving == 1:
        return f"1 band has its new price.\n{_next(run)}"
    return f"{moving or 'No'} bands have their new prices.\n{_next(run)}"


def undone(run: Repricing) -> str:
    """That the prices before are in force again."""
    return f"Repricing {run.id} is undone: all prices are as they were before it."


def run_list(runs: Sequence[Repricing]) -> str:
    """One line a run; empty for none."""
    if not runs:
        return ""
    rows = [
        (
            run.id,
            run.status,
            instant(run.created_at),
            None if run.spot == "null" else run.spot_price,
            *(run.counts[name] for name in _WORDS),
            _signed(run.value_change, run.currency),
            run.currency,
        )
        for run in runs
    ]
    headings = ("repricing", "status", "made", "silver", *_WORDS.values(), "change")
    return table((*headings, "in"), rows, right="   rrrrrrrr")


def _silver(run: Repricing) -> str:
    spot = json.loads(run.spot)
    if spot is None:
        return "no price in force"
    when = f", {spot['as_of'][:16].replace('T', ' ')} UTC" if spot["as_of"] else ""
    return f"{spot['price']} {spot['currency']} a troy ounce ({spot['source']}{when})"


def _by(when: str, who: str) -> str:
    return f"{when} by {who}" if when and who else when


def _signed(value: Decimal, currency: str) -> str:
    amount = in_currency(value, currency)
    return f"{amount:+f}" if amount else f"{amount:f}"
