"""The listing that is meant, in the state that it was seen in."""

from __future__ import annotations

from api.ports import Listing, NotFound, PreconditionFailed, UnitOfWork
from api.services.listings.document import version


def not_there(sku: str) -> NotFound:
    """That there is no such listing."""
    return NotFound(f"there is no listing '{sku[:64]}'; list them to see all")


def there(unit: UnitOfWork, sku: str) -> Listing:
    """The listing of a sku. Raises NotFound."""
    found = unit.listings.get(sku)
    if found is None:
        raise not_there(sku)
    return found


def as_expected(unit: UnitOfWork, sku: str, expected: str | None) -> Listing:
    """The listing of a sku, in the version that was seen.

    Args:
        unit: the transaction.
        sku: which one.
        expected: its `version`; None for whatever it is.

    Raises:
        NotFound: there is no such listing.
        PreconditionFailed: it has another version.
    """
    found = there(unit, sku)
    if expected not in {None, version(found)}:
        raise PreconditionFailed(
            f"'{sku}' has changed since it was read; read it again, make the change "
            "to that and send it anew",
            current=found.revision,
        )
    return found
