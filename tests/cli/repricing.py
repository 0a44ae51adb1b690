"""A shop for commands, with a listing for every decision."""

from __future__ import annotations

from contextlib import contextmanager

from api.app import compose
from api.settings import Settings
from tests.services.repricing import Shop

BAND = ("5", "5.5")


class StockedShop(Shop):
    """A shop on composed services, so that commands and tests share them."""

    def __init__(self, services):
        super().__init__(services.storage, services.clock)
        self.services = services
        self.repricings = services.repricings

    def stock(self):
        """Stock it."""
        self.list(
            self.listing("hold", (*BAND, "152.00")),
            self.listing("raise", (*BAND, "140.00"), ("6", "6", "140.00")),
            self.listing("lower", (*BAND, "170.00")),
            self.listing("wait", (*BAND, "100.00")),
            self.listing("lock", (*BAND, "100.00"), locked=True),
            self.listing("block", (*BAND, "100.00"), coin="gone"),
        )
        return self


@contextmanager
def stocked(database, clock):
    """The shop in a new SQLite file."""
    composed = compose(Settings(database=str(database)), clock=clock)
    try:
        yield StockedShop(composed).open().stock()
    finally:
        composed.close()
