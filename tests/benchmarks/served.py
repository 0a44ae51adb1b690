"""The server that is measured: the API, with a bare route beside it.

Run as a program of its own: `python -m tests.benchmarks.served FOLDER`. Prints
its port and a key, then serves until it is stopped.
"""

from __future__ import annotations

import json
import sys
from pathlib import Path

from flask import Flask, Response, request

from api.app import compose, create_app
from api.cli.serve import listen
from api.settings import Settings
from tests.benchmarks.workshop import SPOT, document

THREADS = 4


def add_bare_route(app: Flask, size: int) -> None:
    """A route that reads JSON and answers JSON of the same size, and does nothing."""
    answer = {"text": "x" * size}

    @app.post("/bare")
    def bare() -> Response:
        request.get_json()
        return app.json.response(answer)


def main() -> None:
    settings = Settings(database=str(Path(sys.argv[1]) / "bench.sqlite3"))
    services = compose(settings)
    services.price_books.replace(document(), expected=None)
    services.spot_prices.enter("XAG", SPOT.price, "EUR")
    _, token = services.keys.create("bench", "benchmark")
    app = create_app(settings, services)
    # A plain application of its own, so that no hook of ours slows the bare route.
    plain = Flask("bare")
    add_bare_route(plain, int(sys.argv[2]))

    def both(environ, start_response):  # type: ignore[no-untyped-def]
        chosen = plain if environ["PATH_INFO"] == "/bare" else app
        return chosen.wsgi_app(environ, start_response)

    server = listen(both, host="127.0.0.1", port=0, threads=THREADS)
    print(json.dumps({"port": server.effective_port, "token": token}), flush=True)
    server.run()


if __name__ == "__main__":
    main()
