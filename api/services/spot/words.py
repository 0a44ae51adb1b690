"""What is said where a price is missing, and what an entry's status may be."""

from __future__ import annotations

from api.ports import SPOT_STATUSES, SpotEntry, SpotStatus
from pricing.errors import InvalidInput


def no_price(metal: str) -> str:
    """That nothing is in force, and how to change that."""
    return (
        f"no spot price of {metal} is in force; enter one with "
        "'fineweight spot set 27.50', fetch one with 'fineweight spot fetch' where a "
        "feed is set up, or give 'spot' with the request"
    )


def no_rate(entry: SpotEntry, to: str) -> str:
    """That a price cannot be brought into a currency, and how to change that."""
    return (
        f"the spot price in force is in {entry.currency} and the price book in {to}, "
        "and no exchange rate between them is in force; enter a price of "
        f"{entry.currency} in {to}, fetch one where a feed of rates is set up, or "
        f"enter the spot in {to}"
    )


def entry_status(name: str | None) -> SpotStatus | None:
    """The status of this name. Raises InvalidInput."""
    if name is None:
        return None
    for status in SPOT_STATUSES:
        if status == name:
            return status
    raise InvalidInput(
        f"'{name[:40]}' is not a status; use one of {', '.join(SPOT_STATUSES)}",
        path=("status",),
    )
