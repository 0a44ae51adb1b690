"""Pages asked for and forms sent as a browser does it, without one."""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from html import unescape

_HIDDEN = re.compile(r'type="hidden" name="(_[a-z]+)" value="([^"]*)"')


@dataclass
class Desk:
    """A browser of sorts on this machine; it keeps its cookies."""

    app: object
    services: object
    headers: dict[str, str] = field(default_factory=dict)
    base_url: str = "http://localhost"

    def __post_init__(self):
        self.client = self.app.test_client()

    def get(self, path, **headers):
        return self.open(path, headers=self.headers | headers)

    def open(self, path, **asked):
        """The answer to a request, over HTTP or whatever this browser speaks."""
        return self.client.open(path, base_url=self.base_url, **asked)

    def marks(self, path):
        """What the forms of a page send back unseen, by name; of the first form."""
        found = {}
        for name, value in _HIDDEN.findall(self.get(path).text):
            found.setdefault(name, unescape(value))
        return found

    def post(self, path, values=(), *, drawn="", headers=(), **more):
        """Send a form with what the page `drawn` (or this one) has in it unseen."""
        sent = self.marks(drawn or path) | dict(values)
        all_headers = self.headers | dict(headers)
        return self.open(path, method="POST", data=sent, headers=all_headers, **more)

    def part(self, path, part, values=()):
        """Ask for a part while one types."""
        return self.post(path, values, headers={"X-Part": part})
