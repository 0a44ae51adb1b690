"""What must hold between the parts of a price book, each fault with its path.

Members that were at fault already stand in as empty texts and zeros; nothing
more is said about those.
"""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal

from pricing.errors import Path
from pricing.price_book.bench import REMOVALS, Stage
from pricing.price_book.book import PriceBook
from pricing.price_book.findings import Findings, suggestion


def check_book(book: PriceBook, findings: Findings) -> None:
    """Note every disagreement between the parts of ``book``."""
    for path, name in _repeated(book):
        findings.add(path, f"'{name}' is here already; give each its own name")
    for i, stage in enumerate(book.stages):
        if findings.full:
            return
        _check_uses(book, stage, ("stages", i), findings)
        _check_redo(book, stage, i, findings)
    _check_removals(book, findings)
    for path, amount in _payable(book):
        if amount % book.currency.step:
            findings.add(
                path,
                f"{amount} cannot be paid in {book.currency.code}; "
                f"write a whole multiple of {book.currency.step}",
            )


def _named(book: PriceBook) -> Iterator[tuple[Path, tuple[str, ...], str]]:
    yield ("consumables",), tuple(each.key for each in book.consumables), "key"
    yield ("tools",), tuple(each.key for each in book.tools), "key"
    yield ("stages",), tuple(each.key for each in book.stages), "key"
    yield ("channels",), tuple(each.key for each in book.channels), "key"
    yield ("policies",), tuple(each.key for each in book.policies), "key"
    yield ("extras",), tuple(each.key for each in book.extras), "key"
    yield ("calibrations",), tuple(each.coin for each in book.calibrations), "coin"
    for i, stage in enumerate(book.stages):
        uses = tuple(use.key for use in stage.consumables)
        yield ("stages", i, "consumables"), uses, "key"
        yield ("stages", i, "tools"), stage.tools, ""
    for i, channel in enumerate(book.channels):
        fees = tuple(fee.label for fee in channel.fees)
        yield ("channels", i, "fees"), fees, "label"


def _repeated(book: PriceBook) -> Iterator[tuple[Path, str]]:
    for path, names, member in _named(book):
        seen = {""}
        for i, name in enumerate(names):
            if name in seen - {""}:
                yield (*path, i, member) if member else (*path, i), name
            seen.add(name)


def _check_uses(book: PriceBook, stage: Stage, path: Path, findings: Findings) -> None:
    if findings.readable("consumables"):
        known = [each.key for each in book.consumables]
        for i, use in enumerate(stage.consumables):
            if use.key and use.key not in known:
                said = f"the book has no consumable '{use.key}'"
                where = (*path, "consumables", i, "key")
                findings.add(where, f"{said}; {suggestion(use.key, known)}")
    if findings.readable("tools"):
        known = [each.key for each in book.tools]
        for i, tool in enumerate(stage.tools):
            if tool and tool not in known:
                said = f"the book has no tool '{tool}'"
                where = (*path, "tools", i)
                findings.add(where, f"{said}; {suggestion(tool, known)}")


def _check_redo(book: PriceBook, stage: Stage, i: int, findings: Findings) -> None:
    to = "" if stage.redo is None else stage.redo.to
    reachable = [each.key for each in book.stages[: i + 1]]
    if not to or to in reachable:
        return
    if any(each.key == to for each in book.stages):
        advice = "comes later; send the piece back to this stage or an earlier one"
    else:
        advice = f"is not a stage; {suggestion(to, reachable)}"
    findings.add(("stages", i, "redo", "to"), f"'{to}' {advice}")


def _check_removals(book: PriceBook, findings: Findings) -> None:
    places = range(len(book.stages))
    read = all(findings.readable("stages", i) for i in places)
    if not (read and all(findings.sound("stages", i, "removes") for i in places)):
        return
    removals = [stage.removes for stage in book.stages]
    if removals and "slug" not in removals:
        findings.add(
            ("stages",),
            'no stage removes "slug"; name the one that punches the hole',
        )
    furthest = 0
    for i, removal in enumerate(removals):
        if not removal:
            continue
        path = ("stages", i, "removes")
        if removal in removals[:i]:
            findings.add(path, f'an earlier stage removes "{removal}" already')
        elif REMOVALS.index(removal) < furthest:
            findings.add(path, f'"{removal}" is too late; slug, bore, finish in order')
        furthest = max(furthest, REMOVALS.index(removal))


def _payable(book: PriceBook) -> Iterator[tuple[Path, Decimal]]:
    for i, channel in enumerate(book.channels):
        path = ("channels", i, "shipping")
        yield (*path, "charged"), channel.shipping.charged
        yield (*path, "paid"), channel.shipping.paid
    for i, policy in enumerate(book.policies):
        if policy.rounding is not None:
            path = ("policies", i, "rounding")
            yield (*path, "step"), policy.rounding.step
            yield (*path, "offset"), policy.rounding.offset
