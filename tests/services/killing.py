"""Processes that end in the middle of a transaction."""

from __future__ import annotations

from contextlib import contextmanager
from unittest.mock import patch

import pytest


class Killed(BaseException):
    """The process ends here."""


@contextmanager
def killed_in(shop, name, *, after=0):
    """The process ends in the transaction that calls this, after some others."""
    left = iter(range(after))
    write = shop.storage.write

    def writing(work, **more):
        def dying(unit):
            class Unit:
                def __getattr__(self, member):
                    return getattr(unit, member)

                @property
                def repricings(self):
                    return Store(unit.repricings)

            return work(Unit())

        return write(dying, **more)

    class Store:
        def __init__(self, store):
            self.store = store

        def __getattr__(self, member):
            if member == name and next(left, None) is None:
                raise Killed
            return getattr(self.store, member)

    with patch.object(shop.storage, "write", writing), pytest.raises(Killed):
        yield
