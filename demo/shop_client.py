"""What the shop's server asks the workshop, with the key that only the server has."""

from __future__ import annotations

import json
from dataclasses import dataclass
from http import HTTPStatus
from typing import Any
from urllib.error import HTTPError
from urllib.parse import quote, urlencode
from urllib.request import Request, urlopen

PATIENCE_S = 10


class Refused(Exception):
    """The workshop answered with a problem; ``kind`` is the end of its type."""

    def __init__(self, status: int, problem: dict[str, Any]) -> None:
        super().__init__(problem.get("detail", f"status {status}"))
        self.status = status
        self.kind = str(problem.get("type", "")).rpartition("/")[2]


class Unreachable(Exception):
    """The workshop did not answer, or is in trouble."""


@dataclass(frozen=True, slots=True)
class Workshop:
    """The API of the workshop at ``address``, asked with a shop key."""

    address: str
    key: str

    def rings(self) -> list[dict[str, Any]]:
        """What is published, newest first."""
        answer: list[dict[str, Any]] = self._ask("/v1/window/listings")["listings"]
        return answer

    def offer(self, sku: str) -> dict[str, Any]:
        """A ring as linked data, for search engines."""
        return self._ask(f"/v1/window/listings/{quote(sku, safe='')}/offer")

    def price(self, sku: str, *, system: str, size: str, quantity: int) -> Any:
        """Today's price."""
        asked = {"sku": sku, "system": system, "size": size, "quantity": quantity}
        return self._ask(f"/v1/window/prices?{urlencode(asked)}")

    def signing_keys(self) -> dict[str, Any]:
        """The public keys that held prices are signed with."""
        return self._ask("/v1/window/signing-keys")

    def accept(self, quote_id: str, token: str) -> dict[str, Any]:
        """Take up the held price: from now on it is an order for the workshop.

        With the token the workshop looks at it too, and not at the id alone.
        """
        path = f"/v1/quotes/{quote(quote_id, safe='')}/accept"
        headers = {"If-Match": "*", "Idempotency-Key": f"accept-{quote_id}"}
        return self._ask(path, {"token": token}, headers)

    def _ask(
        self,
        path: str,
        body: dict[str, Any] | None = None,
        headers: dict[str, str] | None = None,
    ) -> dict[str, Any]:
        """Ask and read. Raises Refused, Unreachable."""
        sent = {"Authorization": f"Bearer {self.key}", **(headers or {})}
        data = None
        if body is not None:
            data, sent["Content-Type"] = json.dumps(body).encode(), "application/json"
        asked = Request(self.address + path, data, sent)  # noqa: S310 - as set up
        try:
            with urlopen(asked, timeout=PATIENCE_S) as answer:  # noqa: S310 - as above
                read: dict[str, Any] = json.load(answer)
                return read
        except HTTPError as error:
            raise _problem(error) from error
        except (OSError, ValueError) as error:
            raise Unreachable(str(error)) from error


def _problem(error: HTTPError) -> Refused | Unreachable:
    if error.code >= HTTPStatus.INTERNAL_SERVER_ERROR:
        return Unreachable(f"status {error.code}")
    try:
        return Refused(error.code, json.load(error))
    except ValueError:
        return Refused(error.code, {})
