"""The demo's shop before a real workshop: what is refused, by whom, and why."""

from __future__ import annotations

import base64
import importlib
import json
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from decimal import Decimal

import jwt
import pytest
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

from api.app import compose, create_app
from api.settings import Settings
from pricing.ring_size import ring_size
from tests.architecture.source import ROOT
from tests.browser.window_pages import running
from tests.services.promising import BOOK
from tests.services.selling import asked, band

SKU, PRICE = "ring-1", "189.95"


class Clock:
    """The time of day, and how far a test has moved it."""

    def __init__(self):
        self.ahead = timedelta()

    def now(self):
        return datetime.now(UTC) + self.ahead


@dataclass
class Street:
    """A workshop, and the modules of the shop that asks it."""

    services: object
    clock: Clock
    address: str
    demo: object

    def shop(self):
        """A shop that has just been opened: what asks the workshop, and a buyer."""
        _, key = self.services.keys.create("shop", "shop")
        workshop = self.demo.Workshop(self.address, key)
        return workshop, self.demo.create_shop(
            self.demo.Shop(workshop, "")
        ).test_client()

    def hold(self):
        """A held price: the id, and the token."""
        quote = self.services.window.holds.hold(SKU, ring_size("us", "8"), 1)
        return quote.id, self.services.window.holds.shown(quote).token

    def signed(self, token, **claims):
        """Other claims, signed with the workshop's own key."""
        signing, said = self.services.window.signing, claims_of(token) | claims
        return self.services.storage.write(lambda unit: signing.sign(unit, said))

    def status(self, quote_id):
        return self.services.quotes.status(self.services.quotes.get(quote_id))


@pytest.fixture(scope="module")
def street(tmp_path_factory):
    database = tmp_path_factory.mktemp("street") / "fineweight.sqlite3"
    settings = Settings(database=str(database), quota_quotes=9999)
    clock = Clock()
    services = compose(settings, clock=clock)
    services.price_books.replace(BOOK, expected=None)
    services.spot_prices.enter("XAG", Decimal(27), "EUR")
    services.listings.create(asked(band(price=PRICE), published=True))
    with pytest.MonkeyPatch.context() as patch:
        patch.syspath_prepend(str(ROOT / "demo"))
        demo = importlib.import_module("shop")
    with running(create_app(settings, services)) as address:
        yield Street(services, clock, address, demo)
    services.close()


@pytest.fixture(autouse=True)
def today(street):
    yield
    street.clock.ahead = timedelta()


def part(document):
    raw = json.dumps(document).encode()
    return base64.urlsafe_b64encode(raw).rstrip(b"=").decode()


def claims_of(token):
    return jwt.decode(token, options={"verify_signature": False})


def bent(_street, token):
    head, _, signature = token.split(".")
    return f"{head}.{part(claims_of(token) | {'total': '1.00'})}.{signature}"


def forged(_street, token):
    kid = jwt.get_unverified_header(token)["kid"]
    private = Ed25519PrivateKey.generate()
    return jwt.encode(claims_of(token), private, "EdDSA", {"kid": kid})


def for_another(street, token):
    return street.signed(token, aud="bench")


REFUSED = [bent, forged, for_another]


def checkout(buyer, token):
    return buyer.post("/checkout", data={"token": token}, follow_redirects=True)


@pytest.mark.parametrize("make", REFUSED)
def test_what_the_workshop_did_not_promise_the_shop_refuses_by_itself(street, make):
    workshop, buyer = street.shop()
    name, token = street.hold()
    false = make(street, token)
    checkout(buyer, forged(street, token))  # it has the keys by now
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(type(workshop), "_ask", None)  # nobody can be asked
        refused = checkout(buyer, false)
    assert refused.status_code == 409
    assert "Not ordered" in refused.text
    assert street.status(name) == "open"
    assert PRICE in checkout(buyer, token).text


@pytest.mark.parametrize("make", REFUSED)
def test_what_it_did_not_promise_the_workshop_refuses_too(street, make):
    workshop, _ = street.shop()
    name, token = street.hold()
    with pytest.raises(street.demo.Refused) as refused:
        workshop.accept(name, make(street, token))
    assert refused.value.status == 422
    assert street.status(name) == "open"


def test_a_price_whose_time_is_over_both_refuse(street):
    workshop, buyer = street.shop()
    name, token = street.hold()
    over = street.signed(token, exp=int(datetime.now(UTC).timestamp()) - 1)
    page = checkout(buyer, over)
    assert page.status_code == 409
    assert f"<strong>{PRICE} EUR</strong>" in page.text
    assert street.status(name) == "open"  # the shop alone said so
    street.clock.ahead = timedelta(hours=25)
    for sent in (token, over):
        with pytest.raises(street.demo.Refused) as refused:
            workshop.accept(name, sent)
        assert (refused.value.status, refused.value.kind) == (409, "quote-expired")
    assert f"<strong>{PRICE} EUR</strong>" in checkout(buyer, token).text


def test_a_price_that_was_ordered_is_ordered_nowhere_again(street):
    _, first = street.shop()
    name, token = street.hold()
    ordered = checkout(first, token)
    assert "Ordered" in ordered.text
    again = checkout(first, token)
    assert again.request.path == ordered.request.path == f"/orders/{name}"
    workshop, second = street.shop()
    refused = checkout(second, token)
    assert refused.status_code == 409
    assert "it was used before" in refused.text
    with pytest.raises(street.demo.Refused) as online:
        workshop.accept(name, token)
    assert online.value.status == 409


def test_an_acceptance_whose_answer_was_lost_is_told_again_after_the_holds_time(street):
    workshop, _ = street.shop()
    name, token = street.hold()
    street.clock.ahead = timedelta(hours=23)
    told = workshop.accept(name, token)
    street.clock.ahead = timedelta(hours=25)
    assert workshop.accept(name, token) == told
    assert street.status(name) == "accepted"
