"""Repricings, and the bands of one, page by page."""

from __future__ import annotations

from dataclasses import dataclass

from api.ports import (
    BandFilter,
    Place,
    Repricing,
    RepricingBand,
    RepricingStatus,
    Storage,
)
from api.services.paging import check_limit, cut


@dataclass(frozen=True, slots=True, kw_only=True)
class RepricingPage:
    """Some runs, newest first, and whether there are more on either side."""

    runs: tuple[Repricing, ...]
    older: bool
    newer: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class RepricedBands:
    """Some bands of a run by sku and size, and whether there are more around."""

    bands: tuple[RepricingBand, ...]
    after: bool
    before: bool


def run_page(
    storage: Storage,
    status: RepricingStatus | None,
    *,
    limit: int,
    past: int | None,
    newer: bool,
) -> RepricingPage:
    """The runs next to one of them, as `Repricings.page` says. Raises InvalidInput."""
    check_limit(limit)
    runs = storage.read(
        lambda unit: unit.repricings.page(
            status, limit=limit + 1, past=past, newer=newer
        )
    )
    shown, older, before = cut(runs, limit=limit, begun=past is not None, back=newer)
    return RepricingPage(runs=shown, older=older, newer=before)


def band_page(  # noqa: PLR0913 - as a page is asked for, by name
    storage: Storage,
    run: Repricing,
    wanted: BandFilter,
    *,
    limit: int,
    past: Place | None,
    before: bool,
) -> RepricedBands:
    """The bands next to a place, as `Repricings.bands` says. Raises InvalidInput."""
    check_limit(limit)
    bands = storage.read(
        lambda unit: unit.repricings.bands(
            run.seq, wanted, limit=limit + 1, past=past, newer=before
        )
    )
    shown, after, more = cut(bands, limit=limit, begun=past is not None, back=before)
    return RepricedBands(bands=shown, after=after, before=more)
