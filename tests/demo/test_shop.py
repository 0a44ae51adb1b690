"""The demo's shop: what it takes for a held price, and what it does with one."""

from __future__ import annotations

import base64
import importlib
import json
import time
from hashlib import sha256
from hmac import digest

import jwt
import pytest
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

from tests.architecture.source import ROOT

RING = {
    "sku": "ring-a",
    "title": "Ring </script><b>",
    "currency": "EUR",
    "bands": [
        {"from": "10", "to": "12", "price": "104.95"},
        {"from": "5", "to": "9.5", "price": "89.95"},
    ],
}
PRICE = {"title": "Ring", "total": "119.95", "currency": "EUR", "quantity": 1}
SECRET, OTHER = (
    "whsec_" + base64.b64encode(letter * 24).decode() for letter in (b"s", b"t")
)


def part(number):
    return base64.urlsafe_b64encode(number).rstrip(b"=").decode()


class Signer:
    """A workshop's key under a name."""

    def __init__(self, kid):
        self.kid = kid
        self.private = Ed25519PrivateKey.generate()

    def public(self):
        x = part(self.private.public_key().public_bytes_raw())
        return {"kty": "OKP", "crv": "Ed25519", "x": x, "kid": self.kid, "use": "sig"}

    def token(self, **claims):
        now = int(time.time())
        told = {
            "iss": "fineweight",
            "aud": "shop",
            "jti": "hold-1",
            "iat": now,
            "exp": now + 3600,
            "sku": "ring-a",
            "size": {"system": "uk", "size": "T 1/2"},
            "quantity": 1,
            "unit_price": "104.95",
            "total": "104.95",
            "tax": "17.49",
            "currency": "EUR",
        }
        headers = {"kid": self.kid}
        return jwt.encode(told | claims, self.private, "EdDSA", headers)


class FakeWorkshop:
    """Answers as the workshop does, and notes what it was asked."""

    address = "http://127.0.0.1:1"

    def __init__(self, problem):
        self.signers = [Signer("one")]
        self.accepted = []
        self.read = 0
        self.keys_read = 0
        self.refusal = None
        self.problem = problem

    def rings(self):
        self.read += 1
        return [RING]

    def offer(self, sku):
        return {"@type": "Product", "sku": sku, "name": RING["title"]}

    def price(self, sku, *, system, size, quantity):
        assert (sku, system, size, quantity) == ("ring-a", "uk", "T 1/2", 1)
        return PRICE

    def signing_keys(self):
        self.keys_read += 1
        return {"keys": [one.public() for one in self.signers]}

    def accept(self, quote_id, token):
        assert token.count(".") == len("..")
        if self.refusal:
            raise self.refusal
        self.accepted.append(quote_id)
        return {}


@pytest.fixture
def modules(monkeypatch):
    monkeypatch.syspath_prepend(str(ROOT / "demo"))
    names = ("shop", "shop_client", "webhook_check", "price_token")
    return {name: importlib.import_module(name) for name in names}


@pytest.fixture
def workshop(modules):
    return FakeWorkshop(modules["shop_client"].Refused)


@pytest.fixture
def shop(modules, workshop):
    return modules["shop"].Shop(workshop, "fw_window_key", (SECRET,))


@pytest.fixture
def buyer(modules, shop):
    return modules["shop"].create_shop(shop).test_client()


def order(buyer, token):
    return buyer.post("/checkout", data={"token": token}, follow_redirects=True)


def test_rings_are_listed_with_their_least_price_on_the_server(buyer):
    page = buyer.get("/").text
    assert 'href="/rings/ring-a"' in page
    assert "from 89.95 EUR" in page


def test_a_ring_has_the_element_with_the_window_key_and_no_other(buyer):
    page = buyer.get("/rings/ring-a?system=uk&size=%22%3E%3Cb%3E").text
    assert 'key="fw_window_key"' in page
    assert 'size="&#34;&gt;&lt;b&gt;"' in page
    assert page.count("</script>") == 2
    assert 'src="http://127.0.0.1:1/window/ring-price.js"' in page
    assert '"@type": "Product"' in page
    assert buyer.get("/rings/another").status_code == 404


def test_the_policy_lets_one_script_in_and_asks_one_server(buyer):
    policy = buyer.get("/").headers["Content-Security-Policy"]
    assert "default-src 'none'" in policy
    assert "script-src http://127.0.0.1:1/window/ring-price.js;" in policy
    assert "connect-src http://127.0.0.1:1;" in policy
    assert "unsafe" not in policy


def test_a_held_price_is_ordered_once_however_often_it_is_sent(buyer, workshop):
    token = workshop.signers[0].token()
    for _ in range(3):
        page = order(buyer, token)
        assert page.status_code == 200
        assert "<dd>104.95 EUR</dd>" in page.text
        assert "<dd>UK T 1/2</dd>" in page.text
    assert workshop.accepted == ["hold-1"]
    assert workshop.keys_read == 1


def bent(token):
    """The same signature under a lower price."""
    head, body, signature = token.split(".")
    claims = json.loads(base64.urlsafe_b64decode(body + "=="))
    claims["total"] = "1.00"
    return f"{head}.{part(json.dumps(claims).encode())}.{signature}"


def unsigned(signer):
    head = part(json.dumps({"alg": "none", "kid": signer.kid}).encode())
    return f"{head}.{signer.token().split('.')[1]}."


def signed_by_public_key(signer):
    key = signer.public()["x"] * 2
    return jwt.encode({"aud": "shop"}, key, "HS256", {"kid": signer.kid})


FALSE = {
    "bent": lambda signer: bent(signer.token()),
    "for another": lambda signer: signer.token(aud="bench"),
    "from another": lambda signer: signer.token(iss="another"),
    "by a stranger": lambda signer: Signer(signer.kid).token(),
    "by an unknown key": lambda signer: Signer("two").token(),
    "unsigned": unsigned,
    "by the public key": signed_by_public_key,
    "without an end": lambda signer: signer.token(exp=None),
    "nothing": lambda signer: "",
    "rubbish": lambda signer: f"{signer.kid}.é.x",
    "endless": lambda signer: "a" * 10_000,
}


@pytest.mark.parametrize("make", FALSE.values(), ids=FALSE)
def test_what_is_no_promise_is_refused_without_asking(buyer, workshop, make):
    page = order(buyer, make(workshop.signers[0]))
    assert page.status_code == 409
    assert "Not ordered" in page.text
    assert workshop.accepted == []


def test_a_promise_that_is_over_is_refused_with_todays_price(buyer, workshop):
    page = order(buyer, workshop.signers[0].token(exp=int(time.time()) - 1))
    assert page.status_code == 409
    assert "The price of 104.95 EUR was held for a time that has ended" in page.text
    assert "<strong>119.95 EUR</strong>" in page.text
    assert 'href="/rings/ring-a?system=uk&amp;size=T%201/2"' in page.text
    assert workshop.accepted == []


def test_what_was_ordered_in_time_is_still_ordered_when_it_is_sent_again(
    buyer, workshop
):
    order(buyer, workshop.signers[0].token())
    page = order(buyer, workshop.signers[0].token(exp=int(time.time()) - 1))
    assert page.status_code == 200
    assert "<dd>104.95 EUR</dd>" in page.text
    assert workshop.accepted == ["hold-1"]


def test_of_what_the_shop_had_no_answer_the_workshop_is_asked_after_its_time_too(
    buyer, workshop, modules
):
    over = workshop.signers[0].token(exp=int(time.time()) - 1)
    workshop.refusal = modules["shop_client"].Unreachable("lost")
    order(buyer, workshop.signers[0].token())
    workshop.refusal = workshop.problem(409, {"type": "/docs/problems/quote-expired"})
    assert "Nothing was ordered" in order(buyer, over).text
    workshop.refusal = None  # it had accepted, and says so again
    assert "<dd>104.95 EUR</dd>" in order(buyer, over).text
    assert workshop.accepted == ["hold-1"]


def test_the_workshop_has_the_last_word_on_its_time(buyer, workshop):
    kind = {"type": "/docs/problems/quote-expired"}
    workshop.refusal = workshop.problem(409, kind)
    page = order(buyer, workshop.signers[0].token())
    assert page.status_code == 409
    assert "<strong>119.95 EUR</strong>" in page.text
    workshop.refusal = workshop.problem(409, {"type": "/docs/problems/conflict"})
    assert "used before" in order(buyer, workshop.signers[0].token()).text


def test_a_new_key_of_the_workshop_is_fetched_when_it_is_met(buyer, workshop):
    order(buyer, workshop.signers[0].token())
    workshop.signers.append(Signer("two"))
    page = order(buyer, workshop.signers[1].token(jti="hold-2"))
    assert page.status_code == 200
    assert order(buyer, workshop.signers[0].token(jti="hold-3")).status_code == 200
    assert workshop.accepted == ["hold-1", "hold-2", "hold-3"]
    assert workshop.keys_read == 2


def test_for_a_key_that_nobody_knows_the_keys_are_fetched_once(buyer, workshop):
    assert order(buyer, Signer("two").token()).status_code == 409
    assert workshop.keys_read == 1


def test_while_the_workshop_does_not_answer_nothing_is_lost(buyer, workshop, modules):
    token = workshop.signers[0].token()
    workshop.refusal = modules["shop_client"].Unreachable("down")
    page = order(buyer, token)
    assert page.status_code == 502
    assert "does no harm" in page.text
    workshop.refusal = None
    assert order(buyer, token).status_code == 200


def message(kind="listing.prices_changed", *, name="msg_1", at=None, secret=SECRET):
    """A signed message as Standard Webhooks has it: its body and headers."""
    at = str(int(time.time()) if at is None else at)
    body = json.dumps({"type": kind, "timestamp": at, "data": {}}).encode()
    key = base64.b64decode(secret.removeprefix("whsec_"))
    signed = base64.b64encode(digest(key, f"{name}.{at}.".encode() + body, sha256))
    return body, {
        "webhook-id": name,
        "webhook-timestamp": at,
        "webhook-signature": f"v1,AAAA v1,{signed.decode()}",
    }


def tell(buyer, body, headers):
    return buyer.post("/hook", data=body, headers=headers).status_code


def test_prices_are_read_anew_once_the_workshop_says_they_changed(buyer, workshop):
    buyer.get("/")
    buyer.get("/")
    assert workshop.read == 1
    assert tell(buyer, *message("quote.expired", name="msg_0")) == 204
    buyer.get("/")
    assert workshop.read == 1
    assert tell(buyer, *message()) == 204
    buyer.get("/")
    assert workshop.read == 2
    assert tell(buyer, *message()) == 204  # the same again
    buyer.get("/")
    assert workshop.read == 2


def test_prices_read_while_they_changed_are_not_shown_again(
    buyer, workshop, modules, shop
):
    workshop_says = modules["shop"].create_shop(shop).test_client()
    reading = workshop.rings

    def slowly():
        workshop.rings = reading
        rings = reading()
        assert tell(workshop_says, *message()) == 204
        return rings

    workshop.rings = slowly
    buyer.get("/")
    buyer.get("/")
    assert workshop.read == 2


STRANGE = {
    "changed": {"body": b"{}"},
    "renamed": {"webhook-id": "msg_2"},
    "unnamed": {"webhook-id": ""},
    "unsigned": {"webhook-signature": ""},
    "odd": {"webhook-signature": "v1,é"},
    "without a time": {"webhook-timestamp": ""},
    "at no time": {"webhook-timestamp": "1e9"},
    "at an endless time": {"webhook-timestamp": "1" * 5000},
}


@pytest.mark.parametrize("change", STRANGE.values(), ids=STRANGE)
def test_a_message_that_was_changed_is_refused(buyer, workshop, change):
    buyer.get("/")
    body, headers = message()
    new = headers | change
    assert tell(buyer, new.pop("body", body), new) == 401
    buyer.get("/")
    assert workshop.read == 1
    assert tell(buyer, body, headers) == 204


@pytest.mark.parametrize("seconds", [-302, 302])
def test_a_message_of_another_time_is_refused(buyer, seconds):
    assert tell(buyer, *message(at=int(time.time()) + seconds)) == 401


def test_while_the_secret_is_changed_either_counts(buyer, shop):
    body, headers = message(secret=OTHER)
    assert tell(buyer, body, headers) == 401
    shop.hook_secrets = (OTHER, SECRET)
    assert tell(buyer, body, headers) == 204
    assert tell(buyer, *message()) == 204
    shop.hook_secrets = (OTHER,)
    assert tell(buyer, *message()) == 401


def test_without_a_secret_no_message_counts(buyer, shop):
    shop.hook_secrets = ()
    assert tell(buyer, *message(secret="")) == 401


def test_prices_are_read_anew_when_they_have_been_shown_for_a_while(
    buyer, shop, workshop, modules, monkeypatch
):
    buyer.get("/")
    buyer.get("/")
    assert workshop.read == 1
    now = time.monotonic()
    later = now + modules["shop"].FRESH_S + 1
    monkeypatch.setattr(modules["shop"].time, "monotonic", lambda: later)
    buyer.get("/")
    assert workshop.read == 2


def test_without_its_keys_it_says_how_it_is_started(modules, monkeypatch, capsys):
    monkeypatch.setenv("SHOP_KEY", "fw_shop_key")
    monkeypatch.delenv("WINDOW_KEY", raising=False)
    assert modules["shop"].main([]) == 2
    monkeypatch.setenv("WINDOW_KEY", "fw_window_key")
    assert modules["shop"].main(["--help"]) == 2
    assert capsys.readouterr().out.count("python demo/shop.py [WORKSHOP] [PORT]") == 2
