"""Scrap and redo chances that the bench's counts propose; see ``learning``."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from pricing import money
from pricing.chance import estimated_chance
from pricing.margin_check.evidence import FEWEST, StageEvidence
from pricing.margin_check.proposal import Proposal
from pricing.money import ONE, ZERO
from pricing.price_book import Chance, Stage

MOST_BOOK_TRIES = 50
"""Tries that the book's own counts weigh, however many they are [tries].

With 100, a simulated workshop of eight rings a week kept 23 % of the gap between
planned and realised margin, with 50 13 %; one whose book was right lost nothing.
"""
RATE_TRIES = 20
"""Tries that a given rate weighs [tries]."""

_HALF = Decimal("0.5")


def propose_scrap(stage: Stage, evidence: StageEvidence) -> Proposal | None:
    """New counts for the scrap chance of a stage.

    None under eight tries, or where nothing changes.
    """
    learnt = _learnt(stage.scrap, evidence.failed, evidence.tried)
    if learnt is None:
        return None
    return _chance_proposal(stage, "scrap", learnt)


def propose_redo(stage: Stage, evidence: StageEvidence) -> Proposal | None:
    """New counts for the redo chance of a stage.

    None under eight tries, or where nothing changes. A stage that never sent anything
    back in the book goes back to itself.
    """
    redo = stage.redo
    book = Chance(rate=ZERO) if redo is None else redo.chance
    # As it is judged: more than the book from all visits, fewer from those told.
    tries = max(evidence.tried, evidence.counted)
    if evidence.redone <= estimated_chance(book).value * tries:
        tries = evidence.counted
    learnt = _learnt(book, evidence.redone, tries)
    if learnt is None:
        return None
    return _chance_proposal(
        stage, "redo", learnt, to=stage.key if redo is None else redo.to
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Learnt:
    """A chance before and after, with what was added [tries]."""

    before: Chance
    tried: int
    failed: int
    n: int
    how: str


def _learnt(book: Chance, failed: int, tried: int) -> _Learnt | None:
    """Counts whose mean is that of the book's prior with the bench's counts added."""
    with money.arithmetic():
        prior_failed, prior_passed, said = _prior(book)
        hits = prior_failed + failed
        size = prior_failed + prior_passed + tried
        if tried < FEWEST or not hits:
            return None
        mean = hits / size
        new_failed, new_tried = _whole_counts(mean, size - 1)
    if (new_failed, new_tried) == (book.failed, book.tried):
        return None
    return _Learnt(
        before=book,
        failed=new_failed,
        tried=new_tried,
        n=tried,
        how=f"{said}, with {failed} of {tried} at the bench: {_percent(mean)}",
    )


def _prior(book: Chance) -> tuple[Decimal, Decimal, str]:
    """Failed and passed tries that the book stands for, and that in words [tries]."""
    if book.tried is None or book.failed is None:
        rate = book.rate or ZERO
        words = f"the book's {_percent(rate)} counted as {RATE_TRIES} tries"
        return RATE_TRIES * rate, RATE_TRIES * (ONE - rate), words
    # The prior keeps the mean that the book has: its half counts are weighted too.
    weight = min(ONE, Decimal(MOST_BOOK_TRIES + 1) / (book.tried + 1))
    words = f"the book's {book.failed} of {book.tried}"
    if weight < ONE:
        words += f" counted as {MOST_BOOK_TRIES} tries"
    failed, passed = book.failed + _HALF, book.tried - book.failed + _HALF
    return failed * weight, passed * weight, words


def _whole_counts(mean: Decimal, size: Decimal) -> tuple[int, int]:
    """Whole counts with this Jeffreys mean, of about ``size`` tries.

    (failed + ½) ÷ (tried + 1) = mean is solved for tried, for the whole numbers of
    failed beside the wanted one; the pair that is nearest in size is taken.
    """
    wanted = int(max(ZERO, mean * (size + 1) - _HALF))
    pairs = [
        (failed, max(failed, int(money.half_up((failed + _HALF) / mean - 1, ONE))))
        for failed in (wanted, wanted + 1)
    ]
    return min(pairs, key=lambda pair: abs(pair[1] - size))


def _chance_proposal(
    stage: Stage, member: str, learnt: _Learnt, *, to: str = ""
) -> Proposal | None:
    counts: dict[str, object] = {"tried": learnt.tried, "failed": learnt.failed}
    return Proposal(
        path=("stages", stage.key, member),
        current=_chance_words(learnt.before),
        proposed=_chance_words(Chance(tried=learnt.tried, failed=learnt.failed)),
        n=learnt.n,
        how=learnt.how,
        sets={member: {**counts, "to": to} if to else counts},
    )


def _chance_words(chance: Chance) -> str:
    mean = _percent(estimated_chance(chance).value)
    if chance.tried is None:
        return mean
    return f"{chance.failed} of {chance.tried} ({mean})"


def _percent(chance: Decimal) -> str:
    return money.percent(money.half_up(chance, money.RATE_STEP))
