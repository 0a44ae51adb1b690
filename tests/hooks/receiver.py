"""A real endpoint on this machine: keeps what comes, and answers as its path says."""

from __future__ import annotations

import base64
import hashlib
import hmac
import json
import threading
from dataclasses import dataclass
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer


@dataclass(frozen=True)
class Came:
    """One request, its headers in lower case and its very bytes."""

    path: str
    headers: dict[str, str]
    body: bytes

    @property
    def id(self):
        return self.headers["webhook-id"]

    @property
    def document(self):
        return json.loads(self.body)


class Receiver:
    """Answers a path /NNN with that status and /hang never; others as ``answer``.

    /fickle answers 500 to a message that comes for the first time, then 200.
    """

    def __init__(self):
        self.came = []
        self.answer = (200, {})
        self.closing = threading.Event()
        self._arrival = threading.Condition()
        receiver = self

        class Handler(BaseHTTPRequestHandler):
            def do_POST(self):
                receiver._post(self)

            def log_message(self, *_):
                """Say nothing."""

        self._server = ThreadingHTTPServer(("127.0.0.1", 0), Handler)
        self._server.daemon_threads = True
        threading.Thread(target=self._server.serve_forever, args=(0.01,)).start()

    def __enter__(self):
        return self

    def __exit__(self, *_):
        self.closing.set()
        self._server.shutdown()
        self._server.server_close()

    def url(self, path="/"):
        return f"http://127.0.0.1:{self._server.server_port}{path}"

    @property
    def ids(self):
        return [each.id for each in self.came]

    def wait_for(self, count, seconds=30):
        """Until so many have come."""
        with self._arrival:
            enough = self._arrival.wait_for(lambda: len(self.came) >= count, seconds)
        assert enough, f"{len(self.came)} came, not {count}"

    def _post(self, handler):
        length = int(handler.headers["Content-Length"])
        headers = {name.lower(): value for name, value in handler.headers.items()}
        came = Came(handler.path, headers, handler.rfile.read(length))
        with self._arrival:
            again = came.id in self.ids
            self.came.append(came)
            self._arrival.notify_all()
        name = handler.path.strip("/")
        if name == "hang":
            self.closing.wait(10)
            return
        if name == "fickle":
            name = "200" if again else "500"
        status, more = (int(name), {}) if name.isdigit() else self.answer
        handler.send_response(status)
        if status in range(300, 400):
            handler.send_header("Location", "/200")
        for header, value in more.items():
            handler.send_header(header, value)
        handler.send_header("Content-Length", "0")
        handler.end_headers()


def is_signed(came, secret):
    """Whether a receiver that has this secret believes a request.

    Written anew from the specification, beside the code that signs.
    """
    key = base64.b64decode(secret.removeprefix("whsec_"))
    parts = [came.headers["webhook-id"], came.headers["webhook-timestamp"]]
    signed = ".".join(parts).encode() + b"." + came.body
    right = base64.b64encode(hmac.new(key, signed, hashlib.sha256).digest()).decode()
    given = came.headers["webhook-signature"].split(" ")
    return any(hmac.compare_digest(each, f"v1,{right}") for each in given)
