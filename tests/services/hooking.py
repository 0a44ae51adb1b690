"""A shop with endpoints that are told what happens in it."""

from __future__ import annotations

import json
from collections import deque

from api.ports import Place
from api.ports.hooks import HOOK_EVENTS, Sent
from api.services.hooks.delivery import HookDelivery
from api.services.hooks.hooks import Hooks
from api.services.hooks.telling import HookTelling
from api.services.listings.listings import Listings
from tests.services.selling import asked

URL = "https://shop.example/hooks"
OK = Sent(status=200)
BROKEN = Sent(status=500)


class Sender:
    """Keeps what it is to send; answers as it was told, else with 200."""

    def __init__(self):
        self.sent = []
        self.answers = deque()
        self.ahead = lambda: None

    def refusal(self, url):
        return "" if url.startswith("https://") else "plain_http"

    def send(self, hook, message, *, at):
        self.ahead()
        self.sent.append((hook.url, message, at))
        return self.answers.popleft() if self.answers else OK

    @property
    def ids(self):
        return [message.id for _, message, _ in self.sent]

    @property
    def documents(self):
        return [json.loads(message.body) for _, message, _ in self.sent]


class Office:
    """The services around hooks of a shop."""

    def __init__(self, shop):
        self.shop, self.clock, self.storage = shop, shop.clock, shop.storage
        self.sender = Sender()
        self.hooks = Hooks(shop.snapshots, shop.clock, sender=self.sender)
        self.delivery = self.another()
        self.listings = Listings(
            shop.snapshots,
            shop.clock,
            books=shop.books,
            coins=shop.coins,
            spots=shop.spots,
        )

    def another(self):
        """The deliverer of another process on the same database."""
        return HookDelivery(
            self.shop.snapshots,
            self.clock,
            telling=HookTelling(self.shop.books),
            sender=self.sender,
            spread=lambda: 1.0,
        )

    def hook(self, url=URL, events=HOOK_EVENTS):
        return self.hooks.add(url, events)

    def create(self, *bands, **members):
        """A published listing."""
        return self.listings.create(asked(*bands, **({"published": True} | members)))

    def moving(self, run):
        """The places of the bands in review, to be named."""
        bands = self.shop.bands(run, decision="review")
        return [Place(each.sku, each.size_from) for each in bands]

    def run(self):
        return self.delivery.run()

    def told(self):
        """What is told now, each whole."""
        before = len(self.sender.sent)
        self.run()
        return self.sender.documents[before:]

    def happenings(self):
        return self.storage.read(lambda unit: unit.hooks.next_happening())
