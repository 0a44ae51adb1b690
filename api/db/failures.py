"""What a database's refusals mean to a caller; no text of a driver is passed on."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager

import psycopg
from sqlalchemy import exc

from api.ports import StorageCollision, StorageUnavailable

# PostgreSQL: serialization_failure, deadlock_detected.
_COLLISIONS = frozenset({"40001", "40P01"})
# PostgreSQL: unique_violation. It is a race only where the transaction has looked and
# found nothing, and waited for the lock of one that was a moment sooner.
_TAKEN = "23505"
_RACED = frozenset({"uq_quotes_renews", "uq_quotes_number"})
# PostgreSQL: lock_not_available, after a wait as long as is allowed.
_WAITED = "55P03"
# PostgreSQL: undefined_table. SQLite calls a missing table an operational error.
_NO_TABLE = "42P01"
UPGRADE_NEEDED = (
    "the database has no tables of this version yet; run: fineweight db upgrade"
)


@contextmanager
def refusals() -> Iterator[None]:
    """Turn "cannot answer now" into StorageUnavailable; a wrong statement is a bug."""
    try:
        yield
    except (exc.OperationalError, exc.InterfaceError, exc.TimeoutError) as error:
        raise unavailable(error) from error
    except exc.IntegrityError as error:
        if not is_collision(error):
            raise
        raise unavailable(error) from error
    except exc.ProgrammingError as error:
        if _state(error) != _NO_TABLE:
            raise
        raise unavailable(error) from error
    except (sqlite3.Error, psycopg.Error) as error:  # past SQLAlchemy, by the driver
        raise unavailable(error) from error


def is_collision(error: BaseException | None) -> bool:
    """Whether another transaction was in the way, so that a second try may pass."""
    name = getattr(_cause(error), "sqlite_errorname", "")
    if _state(error) == _TAKEN:
        return _constraint(error) in _RACED
    return _state(error) in _COLLISIONS or str(name).startswith("SQLITE_BUSY")


def unavailable(error: BaseException | None) -> StorageUnavailable:
    """What to tell a caller about ``error``; None is a wait that was too long."""
    if error is None or is_collision(error) or _state(error) == _WAITED:
        return StorageCollision(
            "another change is in progress and took too long; nothing was changed, "
            "try again in a moment"
        )
    if _state(error) == _NO_TABLE or "no such table" in str(_cause(error)):
        return StorageUnavailable(UPGRADE_NEEDED)
    return StorageUnavailable(
        "the database cannot be used now; nothing was changed, "
        "see that its disk or server is there and try again"
    )


def _cause(error: BaseException | None) -> BaseException | None:
    return error.orig if isinstance(error, exc.DBAPIError) else error


def _state(error: BaseException | None) -> str:
    return str(getattr(_cause(error), "sqlstate", ""))


def _constraint(error: BaseException | None) -> str:
    said = getattr(_cause(error), "diag", None)
    return str(getattr(said, "constraint_name", ""))
