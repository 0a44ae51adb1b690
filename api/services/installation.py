"""Random secrets of this installation, made when first needed.

Every process that shares the database has the same ones.
"""

from __future__ import annotations

import secrets
import threading

from api.ports import Storage, UnitOfWork

_BYTES = 32


class Installation:
    """Hands out secrets by name, and remembers them."""

    def __init__(self, storage: Storage) -> None:
        self._storage = storage
        self._known: dict[str, bytes] = {}
        self._asking = threading.Lock()

    def secret(self, name: str) -> bytes:
        """The secret of that name, for one purpose only.

        Not to be asked for within a transaction, which might not be kept.

        Raises:
            StorageUnavailable: it is not known yet, and the storage cannot answer.
        """
        if name not in self._known:
            with self._asking:
                self._known[name] = self._kept(name)
        return self._known[name]

    def _kept(self, name: str) -> bytes:
        found = self._storage.read(lambda unit: unit.secrets.get(name))
        if found is None:
            found = self._storage.write(lambda unit: _made(unit, name))
        return found.encode()


def _made(unit: UnitOfWork, name: str) -> str:
    new = secrets.token_urlsafe(_BYTES)
    if unit.secrets.add(name, new):
        return new
    found = unit.secrets.get(name)  # another process was a moment sooner
    if found is None:
        raise LookupError(f"the secret '{name}' is there and is not")
    return found
