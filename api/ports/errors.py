"""What a service refuses, and why; every message is for the caller."""

from __future__ import annotations

from pricing.errors import InvalidInput


class ServiceError(Exception):
    """Base of what a service raises on purpose; the message is for the caller."""

    code = "service_error"

    def __init__(self, message: str) -> None:
        super().__init__(message)
        self.message = message


class NotFound(ServiceError):
    """Nothing is stored under this name."""

    code = "not_found"


class Conflict(ServiceError):
    """The change contradicts what is stored, such as a key used twice."""

    code = "conflict"


class QuoteExpired(Conflict):
    """The quote can no longer be accepted: its time has passed."""

    code = "quote_expired"


class CannotHold(Conflict):
    """The price cannot be promised now; why is for the maker alone."""

    code = "cannot_hold"


class SizeNotOffered(InvalidInput):
    """The listing has no band for this size; the message names those it has."""


class PreconditionFailed(ServiceError):
    """The caller changed an older state than the stored one.

    Attributes:
        current: the revision stored now, or None where nothing is.
    """

    code = "precondition_failed"

    def __init__(self, message: str, *, current: int | None) -> None:
        super().__init__(message)
        self.current = current


class NotAuthenticated(ServiceError):
    """No usable key came with the call; one text for every cause."""

    code = "not_authenticated"


class SpotUnavailable(ServiceError):
    """No spot price can be used; the message says how to enter one."""

    code = "spot_unavailable"


class StaleSpot(SpotUnavailable):
    """The newest spot price is too old to price with."""

    code = "stale_spot"


class StorageUnavailable(ServiceError):
    """The database cannot answer now; nothing was changed.

    Attributes:
        retry_after_s: when trying again makes sense [s].
    """

    code = "storage_unavailable"

    def __init__(self, message: str, *, retry_after_s: int = 1) -> None:
        super().__init__(message)
        self.retry_after_s = retry_after_s


class StorageCollision(StorageUnavailable):
    """Another change was in the way for too long; nothing was changed."""


class TooManyTries(ServiceError):
    """Too many wrong passphrases of late; this one was not even looked at.

    Attributes:
        retry_after_s: when the next one will be [s].
    """

    code = "too_many_tries"

    def __init__(self, retry_after_s: int) -> None:
        super().__init__(
            "there were too many wrong passphrases of late; wait a while, then try "
            "again"
        )
        self.retry_after_s = retry_after_s
