"""Storage in SQLite or PostgreSQL, behind the ports."""

from api.db.storage import SqlStorage, open_storage
from api.db.upgrade import Upgrade, schema_is_current, upgrade

__all__ = ["SqlStorage", "Upgrade", "open_storage", "schema_is_current", "upgrade"]
