"""What a window of jobs says of each stage, judged by the price book in force.

A stage is judged by jobs that were planned with the standard that is in force: once
a new one is, the jobs before are in it already, and say nothing more about it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import replace
from decimal import Decimal

from api.ports.jobs import ReadingSums
from api.ports.margin_checks import CoinReadings, StageSums
from api.services.margin_checks.check import JudgedStage
from pricing.chance import estimated_chance
from pricing.margin_check.evidence import (
    StageEvidence,
    StandardsEvidence,
    judge_stage,
    visits_per_try,
)
from pricing.margin_check.learning import (
    Proposal,
    Removed,
    prior_sd,
    propose_calibration,
    propose_stage,
)
from pricing.money import ONE, ZERO, arithmetic
from pricing.price_book import PriceBook, Stage

Books = Callable[[int], PriceBook | None]
"""A version of the price book; None for one that cannot be read any more."""


def judged_stages(
    book: PriceBook, sums: Iterable[StageSums], books: Books
) -> tuple[JudgedStage, ...]:
    """Every stage of the book with what the sums say of it, in the book's order.

    Args:
        book: in force.
        sums: of the window, apart by the version that planned the jobs.
        books: the versions named there.
    """
    by_stage: dict[str, list[StageSums]] = {}
    for each in sums:
        by_stage.setdefault(each.stage, []).append(each)
    visits = visits_per_try(book.stages)
    return tuple(
        _judged(
            stage,
            _standards(stage, by_stage.get(stage.key, ()), books),
            visits=visits.get(stage.key, ONE),
        )
        for stage in book.stages
    )


def _judged(
    stage: Stage, standards: StandardsEvidence, *, visits: Decimal
) -> JudgedStage:
    scrap = estimated_chance(stage.scrap).value
    redo = None if stage.redo is None else estimated_chance(stage.redo.chance).value
    fair = _fair(standards, visits)
    found = judge_stage(fair, scrap_chance=scrap, redo_chance=redo)
    return JudgedStage(
        standards=standards, scrap_chance=scrap, redo_chance=redo, judgements=found
    )


def _fair(standards: StandardsEvidence, visits: Decimal) -> StandardsEvidence:
    return replace(standards, minutes=standards.minutes.in_doubt(visits))


def _standards(
    stage: Stage, sums: Sequence[StageSums], books: Books
) -> StandardsEvidence:
    known = [(_stage(books(each.book_version), stage.key), each) for each in sums]

    def planned_so(kind: str) -> StageEvidence:
        found = StageEvidence(key=stage.key, title=stage.title or stage.key)
        for before, each in known:
            if before is not None and _standard(before, kind) == _standard(stage, kind):
                found = found.plus(each)
        return found

    return StandardsEvidence(
        scrap=planned_so("scrap"),
        redo=planned_so("redo"),
        minutes=planned_so("minutes"),
    )


def _stage(book: PriceBook | None, key: str) -> Stage | None:
    stages = () if book is None else book.stages
    return next((stage for stage in stages if stage.key == key), None)


def _standard(stage: Stage, kind: str) -> object:
    """What the book says of a stage, as far as it is about ``kind``."""
    if kind == "scrap":
        return stage.scrap
    if kind == "redo":
        return stage.redo
    times = stage.setup_minutes, stage.batch, stage.minutes
    return *times, sorted(stage.minutes_per.items())


def proposed(
    book: PriceBook,
    judged: Sequence[JudgedStage],
    readings: Iterable[CoinReadings],
    books: Books,
) -> tuple[Proposal, ...]:
    """New standards that the bench proposes: stages in their order, then coins."""
    visits = visits_per_try(book.stages)
    usual = prior_sd([each.evidence for each in judged])
    found: list[Proposal | None] = [
        proposal
        for stage, said in zip(book.stages, judged, strict=True)
        for proposal in propose_stage(
            stage,
            _fair(said.standards, visits.get(stage.key, ONE)),
            said.judgements,
            prior_sd=usual,
        )
    ]
    found += _calibrations(book, readings, books)
    return tuple(each for each in found if each is not None)


def _calibrations(
    book: PriceBook, readings: Iterable[CoinReadings], books: Books
) -> list[Proposal | None]:
    found: dict[tuple[str, Removed], list[Decimal]] = {}
    for each in readings:
        for removed, sums in _removals(each):
            factor = _factor(book, each.coin, removed)
            if sums.n and factor == _factor(
                books(each.book_version), each.coin, removed
            ):
                shown = _spread(sums.n, sums.ratio, sums.ratio_sq)
                found.setdefault((each.coin, removed), []).extend(shown)
    return [
        propose_calibration(replace(book.calibration(coin), coin=coin), what, ratios)
        for (coin, what), ratios in found.items()
    ]


def _removals(readings: CoinReadings) -> tuple[tuple[Removed, ReadingSums], ...]:
    return ("slug", readings.slug), ("bored", readings.bored)


def _factor(book: PriceBook | None, coin: str, removed: Removed) -> Decimal | None:
    if book is None:
        return None
    found = book.calibration(coin)
    return found.slug if removed == "slug" else found.bored


def _spread(n: int, total: Decimal, squares: Decimal) -> list[Decimal]:
    """So many figures of this sum and this sum of squares: only these two count."""
    with arithmetic():
        mean = total / n
        around = max(ZERO, squares - total * mean)
        if n == 1 or not around:
            return [mean] * n
        off = (around / 2).sqrt()
        return [mean - off, mean + off, *([mean] * (n - 2))]
