"""Whatever an endpoint does, what happened arrives, in order, or counts as failed."""

from __future__ import annotations

from contextlib import closing
from datetime import UTC, datetime, timedelta
from decimal import Decimal
from ipaddress import ip_network

import pytest

from api.app import compose
from api.hooks.on_demand import SenderOnDemand
from api.hooks.sender import HttpSender
from api.outbound.deadline import Limits
from api.outbound.safe_http import Reach
from api.ports.hooks import HOOK_EVENTS
from api.services.hooks.delivery import Delivered
from api.services.hooks.retries import WAITS_S
from api.settings import Settings
from tests.hooks.receiver import Receiver, is_signed
from tests.services.promising import BOOK
from tests.services.selling import asked, band

LOCAL = (ip_network("127.0.0.0/8"),)
SKUS = ("ring-1", "ring-2")
CHANGES = 6
REFUSING = ("302", "429", "500", "hang")
ALL = ("200", "fickle", "410", *REFUSING)
MENDED = "503"


class Clock:
    """Stands still until it is moved."""

    def __init__(self):
        self.time = datetime(2026, 12, 1, 12, tzinfo=UTC)

    def now(self):
        return self.time


class Impatient(SenderOnDemand):
    """Sends over HTTP, and does not wait long for an answer."""

    def send(self, hook, message, *, at):
        reach = Reach(networks=LOCAL, plain_http=True)
        limits = Limits(connect_s=2, read_s=0.2, total_s=0.2)
        limits = limits if "hang" in hook.url else Limits(total_s=15)
        return HttpSender(reach, limits=limits).send(hook, message, at=at)


class Post:
    """A workshop with an endpoint of each kind, and what came of what happened."""

    def __init__(self, services, clock, receiver):
        self.services, self.clock, self.receiver = services, clock, receiver
        self.hooks = {
            name: services.hooks.add(receiver.url(f"/{name}"), HOOK_EVENTS)
            for name in (*ALL, MENDED)
        }

    def happen(self):
        """Prices of two listings change in turn, and the first news of it goes out."""
        for number in range(CHANGES):
            sku = SKUS[number % len(SKUS)]
            new = asked(band(price=str(200 + number)), sku=sku, published=True)
            if number < len(SKUS):
                self.services.listings.create(new)
            else:
                self.services.listings.replace(sku, new)
            self.services.hook_delivery.run()
            self.clock.time += timedelta(seconds=1)

    def deliver(self):
        """Until nothing waits any more, however long that takes."""
        while self.services.hook_delivery.run() != Delivered() or self.waiting():
            self.clock.time += timedelta(days=2)

    def waiting(self):
        return self.services.storage.read(lambda unit: unit.hooks.heads())

    def came(self, name):
        return [each for each in self.receiver.came if each.path == f"/{name}"]

    def hook(self, name):
        return self.services.hooks.get(self.hooks[name].id)

    def failures(self, name):
        return self.services.hooks.failures(self.hooks[name].id)


@pytest.fixture(scope="module")
def post(tmp_path_factory):
    """All that happened is delivered, or given up."""
    database = str(tmp_path_factory.mktemp("post") / "rings.db")
    settings, clock = Settings(database=database), Clock()
    sender = Impatient(networks=LOCAL, plain_http=True)
    with (
        Receiver() as receiver,
        closing(compose(settings, clock=clock, sender=sender)) as services,
    ):
        services.price_books.replace(BOOK, expected=None)
        services.spot_prices.enter("XAG", Decimal(27), "EUR")
        post = Post(services, clock, receiver)
        post.happen()
        post.deliver()
        yield post


def versions(documents):
    return [each["data"]["version"] for each in documents]


@pytest.mark.parametrize("name", ALL)
def test_each_event_arrives_or_is_reported_whatever_the_endpoint_does(post, name):
    happened = [each.body.decode() for each in post.came("200")]
    assert len(happened) == len({*happened}) == CHANGES
    failed = [each.body for each in post.failures(name)]
    taken = {"200", "fickle"} & {name}
    came = {each.body.decode() for each in post.came(name)} if taken else set()
    # Nothing more is for an endpoint that was switched off after the first.
    told = happened[:1] if name == "410" else happened
    assert [each for each in happened if each in came] + failed == told
    assert post.hook(name).enabled == (name in {"200", "fickle"})


@pytest.mark.parametrize("name", ALL)
def test_an_event_keeps_its_id_its_bytes_and_its_place(post, name):
    came = post.came(name)
    assert len({(each.id, each.body) for each in came}) == len({e.id for e in came})
    seen = versions([each.document for each in came])
    assert seen == sorted(seen)
    assert all(is_signed(each, post.hooks[name].secrets[0]) for each in came)


def test_what_is_refused_once_comes_again_before_what_follows(post):
    ids = [each.id for each in post.came("fickle")]
    assert ids[::2] == ids[1::2]
    assert len({*ids}) == CHANGES


@pytest.mark.parametrize("name", REFUSING)
def test_what_is_always_refused_is_tried_ten_times_and_no_more(post, name):
    came = post.came(name)
    assert len(came) == len(WAITS_S)
    [tried, *others] = post.failures(name)
    assert {each.id for each in came} == {tried.id}
    assert len({each.headers["webhook-timestamp"] for each in came}) == len(came)
    assert tried.answered == (None if name == "hang" else int(name))
    assert {(each.tries, each.reason) for each in others} == {(0, "disabled")}
    assert post.hook(name).why_disabled == "too_many_failures"


def test_an_endpoint_that_is_gone_is_not_asked_again(post):
    assert len(post.came("410")) == 1
    assert post.hook("410").why_disabled == "gone"


def test_no_redirect_is_followed(post):
    assert len(post.came("200")) == CHANGES  # where /302 leads to, too


def test_what_failed_arrives_when_its_owner_replays_it(post):
    hook = post.hook(MENDED)
    failed = [each.id for each in post.failures(MENDED)]
    url = post.receiver.url("/mended")
    post.services.hooks.change(hook.id, url=url, events=hook.events, enabled=True)
    assert post.services.hooks.replay(hook.id) == len(failed) == CHANGES
    post.deliver()
    assert [each.id for each in post.came("mended")] == failed
    assert post.failures(MENDED) == ()
