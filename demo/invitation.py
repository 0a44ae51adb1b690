"""What to try while the demo serves."""

from __future__ import annotations

import json
from dataclasses import dataclass
from typing import Any

from api.ports import Repricing, StoredQuote

FIRST = {"coin": "at_50s_1959_1973", "size": {"system": "us", "size": "8.5"}}


@dataclass(frozen=True, slots=True, kw_only=True)
class Invitation:
    """What was made while the story was told, and can be looked at.

    Attributes:
        token: a bench key.
        quote: one with a sheet for the customer.
        run: a preview that can be applied.
    """

    token: str
    quote: StoredQuote
    run: Repricing

    def text(self, address: str, *, shop: str) -> str:
        """How to ask over HTTP, and where to look."""
        what_if, fetch = "/v1/repricings/what-if", "/v1/spot-prices/fetch"
        apply = f"/v1/repricings/{self.run.id}/apply"
        match = f'If-Match: "repricing-{self.run.version}"'
        return f"""
The API answers at {address} (documentation: {address}/docs).
The customer's sheet of quote {self.quote.number}, to look at and to print:

  {address}/quotes/{self.quote.sheet_token}

This week at the bench, planned against realised:

  {address}/bench/week

A key for this demo, good until it is started again:

  {self.token}

The first ring again, over HTTP:

{self._curl(address, "/v1/estimates", FIRST)}

What would become of the shop's prices, were silver 20 % dearer:

{self._curl(address, what_if, {"change_percent": "20"})}

Fetch the price of silver again:

{self._curl(address, fetch, {})}

A small web shop (invented) with these rings, at an origin of its own:

  {shop}

Let its prices follow silver that has moved; the shop is told and shows the new ones:

{self._curl(address, apply, {}, match)}

Stop with Ctrl-C."""

    def _curl(self, address: str, path: str, body: Any, *headers: str) -> str:
        """A request to be copied."""
        bearer = f"Authorization: Bearer {self.token}"
        sent = (bearer, *headers, "Content-Type: application/json")
        told = "".join(f"    -H '{each}' \\\n" for each in sent)
        return f"  curl {address}{path} \\\n{told}    -d '{json.dumps(body)}'"
