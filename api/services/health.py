"""Whether the service can do its work now."""

from __future__ import annotations

from api.ports import Readiness, Storage


class Health:
    """Asks the storage, without waiting for it."""

    def __init__(self, storage: Storage) -> None:
        self._storage = storage

    def ready(self) -> Readiness:
        """What works: the database, its schema, and writing to it."""
        return self._storage.readiness()
