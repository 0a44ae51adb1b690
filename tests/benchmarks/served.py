"""The application that is measured: the API, with a bare route beside it.

`python -m tests.benchmarks.served PORT THREADS` serves it as `fineweight serve`
would; other servers call `application`. DATABASE and BARE_BYTES tell it the
database and how much the bare route answers.
"""

from __future__ import annotations

import os
import sys

from flask import Flask, Response, request

from api.app import compose, create_app
from api.cli.serve import listen
from api.settings import Settings
from tests.benchmarks.workshop import SPOT, document

DATABASE = "BENCHMARK_DATABASE"
BARE_BYTES = "BENCHMARK_BARE_BYTES"
MANY = 1_000_000  # requests a minute: refusals would be measured else
FRAME = len('{"text":""}\n')


def bare_application(size: int) -> Flask:
    """Answers JSON of `size` bytes, reads it if posted, and does nothing else.

    An application of its own, so that no hook of ours slows it down.
    """
    app = Flask("bare")
    answer = {"text": "x" * (size - FRAME)}

    @app.post("/bare")
    def bare() -> Response:
        request.get_json()
        return app.json.response(answer)

    @app.get("/bare")
    def read_bare() -> Response:
        return app.json.response(answer)

    return app


def application():
    """Both applications behind one door."""
    settings = Settings(
        database=os.environ[DATABASE], quota_quotes=MANY, quota_window=MANY
    )
    app = create_app(settings)
    plain = bare_application(int(os.environ[BARE_BYTES]))

    def both(environ, start_response):
        chosen = plain if environ["PATH_INFO"] == "/bare" else app
        return chosen.wsgi_app(environ, start_response)

    return both


def furnish(database: str) -> str:
    """Fill a new database with the demo's workshop; a bench key for it."""
    services = compose(Settings(database=database))
    services.price_books.replace(document(), expected=None)
    services.spot_prices.enter("XAG", SPOT.price, SPOT.currency)
    _, token = services.keys.create("bench", "benchmark")
    services.close()
    return token


def main() -> None:
    port, threads = map(int, sys.argv[1:])
    listen(application(), host="127.0.0.1", port=port, threads=threads).run()


if __name__ == "__main__":
    main()
