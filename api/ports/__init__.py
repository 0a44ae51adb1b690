"""What the services need from outside, and the values and errors they share.

Storage is behind `Storage` and `UnitOfWork`, the time behind `Clock`. Nothing
here knows a database, a web framework or a wire format.
"""

from api.ports.errors import (
    Conflict,
    NotAuthenticated,
    NotFound,
    PreconditionFailed,
    ServiceError,
    SpotUnavailable,
    StaleSpot,
    StorageUnavailable,
)
from api.ports.protocols import (
    BookStore,
    Clock,
    CoinStore,
    KeyStore,
    RevisionStore,
    SpotStore,
    Storage,
    UnitOfWork,
)
from api.ports.values import (
    SCOPES,
    BookVersion,
    CoinRow,
    KeyRecord,
    Part,
    Readiness,
    Revisions,
    Scope,
    SpotEntry,
    StoredBook,
    StoredCoin,
    StoredKey,
)

__all__ = [
    "SCOPES",
    "BookStore",
    "BookVersion",
    "Clock",
    "CoinRow",
    "CoinStore",
    "Conflict",
    "KeyRecord",
    "KeyStore",
    "NotAuthenticated",
    "NotFound",
    "Part",
    "PreconditionFailed",
    "Readiness",
    "RevisionStore",
    "Revisions",
    "Scope",
    "ServiceError",
    "SpotEntry",
    "SpotStore",
    "SpotUnavailable",
    "StaleSpot",
    "Storage",
    "StorageUnavailable",
    "StoredBook",
    "StoredCoin",
    "StoredKey",
    "UnitOfWork",
]
