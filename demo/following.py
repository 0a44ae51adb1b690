"""What the demo has in its shop, and how those prices follow silver, and back.

The listings and their prices are invented, as the workshop is.
"""

from __future__ import annotations

from decimal import Decimal
from pathlib import Path

from api.app import Services
from api.cli.listing_words import change_list
from api.cli.reprice_words import applied, band_list, overview, undone
from api.ports import BandFilter, Repricing, RepricingBand

LISTINGS = Path(__file__).resolve().parent / "listings.csv"
LATER = Decimal("36.40")
"""Silver after it has moved, invented [EUR/ozt]."""
MOST = 20


def stock(services: Services) -> tuple[list[str], str]:
    """Import the file, as `fineweight listings import` does; skus, and what is told."""
    report = services.listings.import_csv(LISTINGS.read_bytes())
    return [each.sku for each in report.changes], change_list(report.changes)


def preview(services: Services, skus: list[str]) -> Repricing:
    """What would become of these prices; none is changed."""
    return services.repricings.preview(LATER, skus)


def told(services: Services, run: Repricing) -> str:
    """A preview with the bands that would have another price."""
    bands = [band for band in _bands(services, run) if band.new_price != band.old_price]
    return f"{overview(run)}\n\n{band_list(run, bands)}"


def apply(services: Services, run: Repricing) -> tuple[Repricing, str]:
    """All new prices in force at once; the run, and what is told of it."""
    done = services.repricings.apply(run.id, expected=run.version)
    return done, applied(done)


def undo(services: Services, run: Repricing) -> str:
    """The prices before it again, exactly."""
    return undone(services.repricings.undo(run.id, expected=run.version))


def _bands(services: Services, run: Repricing) -> tuple[RepricingBand, ...]:
    return services.repricings.bands(run, BandFilter(), limit=MOST).bands
