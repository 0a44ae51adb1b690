"""A server that answers as the shop window does, as told, and a shop of another origin.

Both are on this machine. What the first is asked is written down.
"""

from __future__ import annotations

import json
import threading
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from decimal import Decimal
from importlib.resources import files

from flask import Flask, Response, request
from werkzeug.serving import make_server

KEY = "fw_window_a_key"
SCRIPT = "/window/ring-price.js"
CAUTION = "Silver darkens the skin of some people."
LISTING = {
    "sku": "ring-a",
    "title": "Ring of a 50 schilling",
    "availability": "made_to_order",
    "currency": "EUR",
    "tax_included": True,
    "bands": [
        {"from": "5", "to": "9.5", "price": "89.95"},
        {"from": "9.75", "to": "13", "price": "104.95"},
    ],
    "cautions": [{"code": "tarnish", "text": CAUTION}],
}
STYLE = """
:root { color-scheme: light dark; font-family: sans-serif }
body { margin: 1rem; background: Canvas; color: CanvasText }
"""

LISTEN = """() => {
    window.heard = []
    for (const name of ['ring-price-held', 'ring-price-cleared'])
        document.addEventListener(name, event => heard.push([name, event.detail]))
}"""


class Workshop:
    """What the window answers, to be changed by a test, and what it was asked."""

    def __init__(self):
        self.begin()

    def begin(self):
        self.prices = {"89.95": Decimal("89.95"), "104.95": Decimal("104.95")}
        self.listing = LISTING
        self.lasts = timedelta(minutes=15)
        self.held_for = timedelta(hours=24)
        self.held_total = None
        self.refusals = []
        self.asked = []
        self.holds = {}

    def until(self, lasts):
        return (datetime.now(UTC) + lasts).isoformat().replace("+00:00", "Z")

    def price(self, us, quantity):
        band = next(
            one
            for one in self.listing["bands"]
            if Decimal(one["from"]) <= us <= Decimal(one["to"])
        )
        unit = self.prices[band["price"]]
        return {
            "sku": self.listing["sku"],
            "title": self.listing["title"],
            "quantity": quantity,
            "unit_price": str(unit),
            "total": str(unit * quantity),
            "tax": "15.00",
            "tax_included": self.listing["tax_included"],
            "currency": self.listing["currency"],
            "valid_until": self.until(self.lasts),
            "availability": self.listing["availability"],
            "cautions": self.listing["cautions"],
        }

    def hold(self, key, us, quantity):
        if key not in self.holds:
            number = len(self.holds) + 1
            price = self.price(us, quantity)
            self.holds[key] = price | {
                "id": f"hold-{number}",
                "number": f"2026-{number:04}",
                "total": self.held_total or price["total"],
                "valid_until": self.until(self.held_for),
                "token": f"a.token.{number}",
            }
        return self.holds[key]


def window_app(workshop):
    """The server; ``us`` sizes come as they are, others all count as US 10."""
    app = Flask("window", static_folder=None)
    app.before_request(lambda: refused(workshop))
    app.after_request(share)
    app.add_url_rule(SCRIPT, view_func=script)

    @app.get("/v1/window/listings/<sku>")
    def listing(sku):
        known = sku == workshop.listing["sku"]
        return answer(workshop.listing, 200 if known else 404)

    @app.get("/v1/window/prices")
    def price():
        us = us_of(request.args)
        return answer(workshop.price(us, int(request.args["quantity"])))

    @app.post("/v1/window/quotes")
    def hold():
        asked, key = request.json, request.headers["Idempotency-Key"]
        assert set(asked) == {"sku", "size", "quantity"}
        return answer(workshop.hold(key, us_of(asked["size"]), asked["quantity"]), 201)

    return app


def script():
    text = (files("api.web") / "static" / "ring-price.js").read_bytes()
    return Response(text, content_type="text/javascript")


def refused(workshop):
    if request.method == "OPTIONS" or request.path == SCRIPT:
        return None
    workshop.asked.append((request.method, request.full_path))
    if request.headers.get("Authorization") != f"Bearer {KEY}":
        return answer({}, 401)
    if workshop.refusals:
        status, headers, problem = workshop.refusals.pop(0)
        return answer(problem, status, headers)
    return None


def share(response):
    allowed = "Authorization, Content-Type, Idempotency-Key"
    response.headers["Access-Control-Allow-Origin"] = "*"
    response.headers["Access-Control-Allow-Headers"] = allowed
    response.headers["Access-Control-Expose-Headers"] = "Retry-After"
    return response


def us_of(size):
    return Decimal(size["size"] if size["system"] == "us" else 10)


def answer(value, status=200, headers=None):
    text = json.dumps(value)
    return Response(text, status, headers, content_type="application/json")


def policy(window):
    """As strict as a policy can be that lets the element in."""
    return (
        f"default-src 'none'; script-src {window}{SCRIPT}; connect-src {window}; "
        "style-src 'self'; form-action 'self'; base-uri 'none'; "
        "frame-ancestors 'none'; require-trusted-types-for 'script'; "
        "trusted-types 'none'"
    )


def shop_app(window):
    """Pages with the element as the address says, and a form that shows what came."""
    app = Flask("shop", static_folder=None)

    @app.after_request
    def guard(response):
        response.headers["Content-Security-Policy"] = policy(window())
        return response

    @app.get("/style.css")
    def style():
        return Response(STYLE, content_type="text/css")

    @app.get("/")
    def page():
        given = {"sku": "ring-a", "key": KEY, **request.args.to_dict()}
        attributes = " ".join(f'{name}="{value}"' for name, value in given.items())
        return f"""<!doctype html><html lang="en"><meta charset="utf-8">
            <meta name="viewport" content="width=device-width">
            <title>A ring</title><link rel="stylesheet" href="/style.css">
            <script type="module" src="{window()}{SCRIPT}"></script>
            <main><h1>A ring</h1><form method="post" action="/order">
            <ring-price {attributes}>from 89.95 EUR</ring-price>
            <p><button>Order</button></p></form></main>"""

    @app.post("/order")
    def order():
        return Response(json.dumps(request.form.to_dict()), mimetype="text/plain")

    return app


@dataclass
class Stand:
    """Addresses of both servers, and what the first answers."""

    workshop: Workshop
    window: str = ""
    shop: str = ""


@contextmanager
def standing():
    """Both servers at work."""
    stand = Stand(Workshop())
    with (
        running(window_app(stand.workshop)) as stand.window,
        running(shop_app(lambda: stand.window)) as stand.shop,
    ):
        yield stand


@contextmanager
def running(app):
    """A server on a port of this machine, in a thread; its address."""
    server = make_server("127.0.0.1", 0, app, threaded=True)
    thread = threading.Thread(target=server.serve_forever)
    thread.start()
    try:
        yield f"http://127.0.0.1:{server.server_port}"
    finally:
        server.shutdown()
        thread.join()
        server.server_close()


def choose(page, size, system=None):
    if system:
        page.get_by_label("Size system").select_option(system)
    page.get_by_label("Ring size").select_option(size)
    priced(page)


def priced(page):
    page.locator(".note:not(:empty)").wait_for()


def hold(page):
    page.get_by_role("button", name="Hold this price").click()
    page.locator(".held:not(:empty)").wait_for()
    return page.locator(".held").text_content()


def alert(page):
    page.locator(".error:not(:empty)").wait_for()
    return page.locator(".error").text_content()
