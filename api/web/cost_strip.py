"""The cost of a ring as one proportional strip: every line as long as it is dear.

What comes back is the end of the strip, hatched over what it takes off; the rest is
the cost. The figures are shares of all that is spent, in hundredths of the strip.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from decimal import Decimal
from itertools import groupby

from pricing.money import MINUTE_STEP, ZERO, arithmetic, shown

LEAST_NAMED = Decimal(15)
"""Shortest stretch that has room for its name on a phone [% of the strip]."""
RECOVERY = "recovery"


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetLine:
    """A line of the cost sheet: ``amount`` of one good piece [currency]."""

    kind: str
    label: str
    amount: Decimal
    how: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Stretch:
    """A stretch of the strip; ``start``, ``middle`` and ``width`` in per cent of it."""

    kind: str
    label: str
    start: str
    middle: str
    width: str


@dataclass(frozen=True, slots=True, kw_only=True)
class KindSum:
    """All lines of a kind: ``amount`` [currency], ``share`` of what is spent."""

    kind: str
    amount: Decimal
    share: Decimal
    lines: tuple[SheetLine, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class CostStrip:
    """The strip, and the table that says the same.

    Attributes:
        spent: before anything comes back; ``back`` what does; ``cost`` the rest
            [currency].
        stretches: a stretch a line, in the order of the sheet.
        names: the stretches of kinds that are long enough for their name.
        returned: the stretch at the end that comes back; None for nothing.
        kinds: the table.
    """

    spent: Decimal
    back: Decimal
    cost: Decimal
    stretches: tuple[Stretch, ...]
    names: tuple[Stretch, ...]
    returned: Stretch | None
    kinds: tuple[KindSum, ...]


def cost_strip(lines: Sequence[SheetLine]) -> CostStrip:
    """The strip of a cost sheet; without stretches where nothing is spent."""
    with arithmetic():
        spent = sum((x.amount for x in lines if x.amount > ZERO), ZERO)
        back = -sum((x.amount for x in lines if x.amount < ZERO), ZERO)
        kinds = tuple(_kinds(lines, spent))
        return CostStrip(
            spent=spent,
            back=back,
            cost=spent - back,
            stretches=tuple(_laid([(x.kind, x.label, x.amount) for x in lines], spent)),
            names=tuple(
                stretch
                for stretch in _laid([(x.kind, x.kind, x.amount) for x in kinds], spent)
                if Decimal(stretch.width.removesuffix("%")) >= LEAST_NAMED
            ),
            returned=_returned(spent, back),
            kinds=kinds,
        )


def _laid(
    parts: Sequence[tuple[str, str, Decimal]], spent: Decimal
) -> Iterator[Stretch]:
    """What costs something, one after the other."""
    begun = ZERO
    for kind, label, amount in parts:
        if amount > ZERO:
            yield _stretch(kind, label, begun=begun, amount=amount, whole=spent)
            begun += amount


def _returned(spent: Decimal, back: Decimal) -> Stretch | None:
    if not ZERO < back <= spent:
        return None
    begun = spent - back
    return _stretch(RECOVERY, "Comes back", begun=begun, amount=back, whole=spent)


def _kinds(lines: Sequence[SheetLine], spent: Decimal) -> list[KindSum]:
    found = []
    for kind, group in groupby(lines, key=lambda line: line.kind):
        members = tuple(group)
        amount = sum((line.amount for line in members), ZERO)
        share = amount / spent if spent else ZERO
        found.append(KindSum(kind=kind, amount=amount, share=share, lines=members))
    return found


def _stretch(
    kind: str, label: str, *, begun: Decimal, amount: Decimal, whole: Decimal
) -> Stretch:
    """Where a stretch lies that begins where others have ended [currency]."""
    return Stretch(
        kind=kind,
        label=label,
        start=_hundredths(begun / whole),
        middle=_hundredths((begun + amount / 2) / whole),
        width=_hundredths(amount / whole),
    )


def _hundredths(share: Decimal) -> str:
    return f"{shown(share * 100, MINUTE_STEP)}%"
