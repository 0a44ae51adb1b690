"""A small web shop of its own, at an origin of its own, that sells the demo's rings.

It shows how a shop works with Fineweight: its pages are drawn on the server with a
shop key, the element in them asks with a window key from the buyer's browser, a held
price is checked here without asking anybody and then accepted at the workshop. When
prices change, the workshop tells the shop so. The shop and its name are invented;
nothing is sold.

    export FINEWEIGHT_HOOK_NETWORKS=127.0.0.0/8 FINEWEIGHT_HOOK_HTTP=on
    fineweight serve                                        # in another window
    fineweight hooks add http://127.0.0.1:8373/hook         # tells HOOK_SECRET
    fineweight key create --scope shop                      # and window
    export SHOP_KEY=fw_shop_… WINDOW_KEY=fw_window_… HOOK_SECRET=whsec_…
    python demo/shop.py [WORKSHOP] [PORT]
"""

from __future__ import annotations

import json
import os
import sys
import time
from dataclasses import dataclass, field
from decimal import Decimal
from http import HTTPStatus
from pathlib import Path
from threading import Lock, Thread
from typing import Any

import waitress
from flask import Flask, Response, abort, redirect, render_template, request, url_for
from price_token import Held, HoldOver, NotHeld, TokenCheck
from shop_client import Refused, Unreachable, Workshop
from webhook_check import Once, is_genuine
from werkzeug.wrappers import Response as AnyResponse

NAME = "The Lantern Shelf"
PORT = 8373
KEYS = {"SHOP_KEY", "WINDOW_KEY"}
WORKSHOP = "http://127.0.0.1:8371"
FRESH_S = 300
"""How long rings are shown as they were read, if nothing is heard meanwhile [s]."""
PRICES_CHANGED = "listing.prices_changed"
LONGEST = 4096
"""Of a token, or of anything in an address [characters]."""

Answer = Response | AnyResponse | str | tuple[str, int]


@dataclass
class Shop:
    """What the shop knows; all of it is gone when it ends.

    Attributes:
        window_key: for the buyer's browser, and so known to everybody.
        hook_secrets: of messages from the workshop; two while they are changed,
            none where nothing is to be heard.
        orders: by the name of the held price, so that none is ordered twice.
        sent: names of held prices that the workshop was asked to accept; where its
            answer was lost it may have done so.
    """

    workshop: Workshop
    window_key: str
    hook_secrets: tuple[str, ...] = ()
    orders: dict[str, Held] = field(default_factory=dict)
    sent: set[str] = field(default_factory=set)
    once: Once = field(default_factory=Once)
    lock: Lock = field(default_factory=Lock)
    _rings: tuple[float, list[dict[str, Any]]] = (0, [])
    _changes: int = 0

    def __post_init__(self) -> None:
        self.tokens = TokenCheck(self.workshop.signing_keys)

    def rings(self) -> list[dict[str, Any]]:
        """What is for sale, as it was read lately."""
        read, rings = self._rings
        if time.monotonic() - read > FRESH_S or not rings:
            changes = self._changes
            rings = self.workshop.rings()
            if changes == self._changes:  # else they may be those of before
                self._rings = (time.monotonic(), rings)
        return rings

    def ring(self, sku: str) -> dict[str, Any]:
        """One of them; nothing where there is none."""
        return next((ring for ring in self.rings() if ring["sku"] == sku), {})

    def forget_prices(self) -> None:
        """Read the rings anew when they are next shown."""
        self._changes += 1
        self._rings = (0, [])

    def hear(self, message: dict[str, Any]) -> None:
        """Do what follows from a message of the workshop.

        The prices are in it too; read anew, they are right in whatever order
        messages come. Who takes them from it has to skip a lower ``version``.
        """
        if message["type"] == PRICES_CHANGED:
            self.forget_prices()

    def order(self, token: str) -> str:
        """Take up a held price, once; the name of the order.

        Raises:
            NotHeld, HoldOver: it is none of the workshop's, or its time is over.
            Refused, Unreachable: the workshop does not accept it.
        """
        held = self._held(token)
        name = held["jti"]
        with self.lock:
            if name not in self.orders:
                self.sent.add(name)
                try:
                    self.workshop.accept(name, token)
                except Refused as refused:
                    if refused.kind == "quote-expired":
                        raise HoldOver(held) from refused
                    raise
                self.orders[name] = held
        return name

    def _held(self, token: str) -> Held:
        """What was promised; after its time too where it may be ordered already."""
        try:
            return self.tokens.read(token)
        except HoldOver as over:
            if over.held["jti"] not in self.sent:
                raise
            return over.held


def create_shop(shop: Shop) -> Flask:
    """The shop as an application."""
    app = Flask("shop", template_folder="shop_pages", static_folder=None)
    app.config["MAX_CONTENT_LENGTH"] = 64 * 1024
    app.jinja_env.globals |= {"shop_name": NAME, "least": least}
    app.root_path = str(Path(__file__).resolve().parent)
    for rule, view, method in (
        ("/", lambda: shelf(shop), "GET"),
        ("/rings/<sku>", lambda sku: ring_page(shop, sku), "GET"),
        ("/checkout", lambda: checkout(shop), "POST"),
        ("/orders/<name>", lambda name: order_page(shop, name), "GET"),
        ("/hook", lambda: hook(shop), "POST"),
        ("/shop.css", style, "GET"),
    ):
        app.add_url_rule(rule, rule, view, methods=[method])
    app.register_error_handler(Unreachable, unreachable)
    app.after_request(lambda answer: guarded(answer, shop))
    return app


def least(ring: dict[str, Any]) -> str:
    """The lowest price of a ring in words, as the element says it."""
    price = min((band["price"] for band in ring["bands"]), key=Decimal)
    start = "from " if len(ring["bands"]) > 1 else ""
    return f"{start}{price} {ring['currency']}"


def shelf(shop: Shop) -> Answer:
    """Every ring with its lowest price."""
    return render_template("rings.html", rings=shop.rings())


def ring_page(shop: Shop, sku: str) -> Answer:
    """One ring, with the element that shows and holds its price."""
    ring = shop.ring(sku) or abort(HTTPStatus.NOT_FOUND)
    return render_template(
        "ring.html",
        ring=ring,
        offer=shop.workshop.offer(sku),
        shop=shop,
        system=request.args.get("system", "us")[:LONGEST],
        size=request.args.get("size", "")[:LONGEST],
    )


def checkout(shop: Shop) -> Answer:
    """Order at the held price, or say why not and what it costs today."""
    token = request.form.get("token", "")
    try:
        name = shop.order(token[:LONGEST])
    except HoldOver as over:
        return too_late(shop, over.held)
    except (NotHeld, Refused):
        return render_template("refused.html"), HTTPStatus.CONFLICT
    return redirect(url_for("/orders/<name>", name=name), HTTPStatus.SEE_OTHER)


def too_late(shop: Shop, held: Held) -> Answer:
    """A hold that is over, with the price of today."""
    shop.forget_prices()
    try:
        price = shop.workshop.price(
            held["sku"], **held["size"], quantity=held["quantity"]
        )
    except Refused:  # it is not sold any more
        price = None
    page = render_template("too_late.html", held=held, price=price)
    return page, HTTPStatus.CONFLICT


def order_page(shop: Shop, name: str) -> Answer:
    """What was ordered."""
    held = shop.orders.get(name) or abort(HTTPStatus.NOT_FOUND)
    return render_template("order.html", held=held, ring=shop.ring(held["sku"]))


def hook(shop: Shop) -> Answer:
    """Hear from the workshop; nothing that takes long is done before the answer."""
    body = request.get_data()
    if not is_genuine(shop.hook_secrets, request.headers, body, now=time.time()):
        abort(HTTPStatus.UNAUTHORIZED)
    shop.once(request.headers["webhook-id"], lambda: shop.hear(json.loads(body)))
    return Response(status=HTTPStatus.NO_CONTENT)


def style() -> Answer:
    """The look of the shop."""
    text = (Path(__file__).parent / "shop_pages" / "shop.css").read_bytes()
    return Response(text, content_type="text/css; charset=utf-8")


def unreachable(_: Unreachable) -> Answer:
    """Nothing can be sold while the workshop does not answer."""
    return render_template("unreachable.html"), HTTPStatus.BAD_GATEWAY


def guarded(answer: Response, shop: Shop) -> Response:
    """Let pages load their own style and the workshop's one script, nothing else."""
    workshop = shop.workshop.address
    answer.headers["Content-Security-Policy"] = (
        f"default-src 'none'; script-src {workshop}/window/ring-price.js; "
        f"connect-src {workshop}; style-src 'self'; form-action 'self'; "
        "base-uri 'none'; frame-ancestors 'none'; "
        "require-trusted-types-for 'script'; trusted-types 'none'"
    )
    answer.headers["X-Content-Type-Options"] = "nosniff"
    answer.headers["Referrer-Policy"] = "same-origin"
    answer.headers["Cache-Control"] = "no-store"
    return answer


def listen(shop: Shop, port: int = PORT) -> Any:
    """A server on a port of this machine, 0 for any free one; run it to begin."""
    return waitress.create_server(
        create_shop(shop), host="127.0.0.1", port=port, ident=None
    )


def serve_beside(server: Any) -> str:
    """Let a server run in a thread as long as the program does; its address."""
    Thread(target=server.run, daemon=True).start()
    return f"http://127.0.0.1:{server.effective_port}"


def main(arguments: list[str]) -> int:
    """Serve until interrupted; without its keys tell how it is started."""
    if KEYS - os.environ.keys() or {"-h", "--help"} & {*arguments}:
        print(__doc__)
        return 2
    address, port = [*arguments, *(WORKSHOP, str(PORT))[len(arguments) :]]
    workshop = Workshop(address, os.environ["SHOP_KEY"])
    secrets = tuple(os.environ.get("HOOK_SECRET", "").split())  # two, if need be
    server = listen(Shop(workshop, os.environ["WINDOW_KEY"], secrets), int(port))
    print(f"{NAME} at http://127.0.0.1:{server.effective_port}; stop with Ctrl-C.")
    server.run()
    return 0


if __name__ == "__main__":
    try:
        sys.exit(main(sys.argv[1:]))
    except KeyboardInterrupt:
        sys.exit(130)
