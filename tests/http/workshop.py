"""A whole service on a database of its own; every answer is held to the description."""

from __future__ import annotations

import json
import tomllib
from contextlib import closing
from dataclasses import dataclass, field
from decimal import Decimal
from functools import cache
from urllib.parse import unquote

import jsonschema
from sqlalchemy import text
from werkzeug.exceptions import HTTPException

from api.app import compose, openapi_document
from api.ports import FeedFailed, Fetched
from api.settings import Settings
from tests.architecture.source import ROOT
from tests.lent_apps import give_back, lend

BOOK = tomllib.loads((ROOT / "demo/price_book.toml").read_text("utf-8"))
SPOT = Decimal("27.50")
TABLES = (
    "price_book_versions",
    "coins",
    "spot_prices",
    "feeds",
    "feed_secrets",
    "feed_fetches",
    "api_keys",
    "revisions",
    "quotes",
    "quote_numbers",
    "audit_entries",
    "listings",
    "listing_specs",
    "listing_bands",
    "price_changes",
    "repricings",
    "repricing_cases",
    "repricing_bands",
    "hooks",
    "happenings",
    "hook_messages",
    "jobs",
    "job_numbers",
    "job_attempts",
    "job_coins",
    "job_lines",
    "job_stages",
    "stage_timers",
)
"""What requests are about; what is noted of the requests themselves is left out."""
MANY = 100_000
"""A quota that no test uses up."""
QUOTAS = ("quotes", "sheets", "window", "holds")


def seed(database: str, clock=None) -> dict[str, str]:
    """Fill a new database; the tokens of its keys by what they are called."""
    with closing(compose(Settings(database=database), clock=clock)) as services:
        services.price_books.replace(BOOK, expected=None)
        services.spot_prices.enter("XAG", SPOT, "EUR")
        scopes = {"bench": "bench", "shop": "shop", "window": "window"}
        made = {
            name: services.keys.create(scope, f"The {name} key")
            for name, scope in (scopes | {"revoked": "bench"}).items()
        }
        services.keys.revoke(made["revoked"][0].id)
    return {name: token for name, (_, token) in made.items()}


@cache
def described() -> dict:
    return openapi_document()


@cache
def validator(path: str, method: str, status: str) -> tuple[str, object]:
    """Media type and validator of one answer; of a problem where it is not named."""
    answers = described()["paths"][path][method]["responses"]
    assert status in answers, f"{method} {path} does not declare {status}"
    content = answers[status].get("content", {})
    if not content:
        return "", None
    [(media, shown)] = content.items()
    return media, of_schema(shown["schema"])


def of_schema(schema):
    """A validator of one schema, with the components beside it."""
    whole = {"components": described()["components"], **schema}
    return jsonschema.Draft202012Validator(whole)


def component(name):
    return of_schema({"$ref": f"#/components/schemas/{name}"})


@dataclass
class Post:
    """A fetcher that hands over what lies ready under a URL, and never goes out."""

    letters: dict[str, bytes | FeedFailed] = field(default_factory=dict)
    sent: list[dict[str, str]] = field(default_factory=list)

    def fetch(self, url, headers, *, secret_names, check=None):
        self.sent.append(headers)
        letter = self.letters.get(url, FeedFailed("not_found", "There is nothing."))
        if isinstance(letter, FeedFailed):
            raise letter
        return Fetched(body=letter)


class Workshop:
    """A client with keys; every answer it gets is checked."""

    def __init__(
        self, database: str, tokens: dict[str, str], *, clock=None, quota=MANY
    ) -> None:
        self.post_office = Post()
        limits = {f"quota_{name}": quota for name in QUOTAS}
        self._settings = Settings(database=database, **limits)
        self.services = compose(self._settings, clock=clock, fetcher=self.post_office)
        self.app = lend(self._settings, self.services)
        self.client = self.app.test_client()
        self.tokens = tokens

    def close(self):
        self.services.close()
        give_back(self.app, self._settings)

    def send(self, method, path, body=None, *, key="bench", headers=None, **more):
        """The answer to a request; ``body`` as JSON; bytes as they are, text as CSV."""
        sent = {"Authorization": f"Bearer {self.tokens[key]}"} if key else {}
        if isinstance(body, str):
            more = {"data": body.encode(), "content_type": "text/csv"} | more
        elif body is not None:
            data = body if isinstance(body, bytes) else json.dumps(body).encode()
            more = {"data": data, "content_type": "application/json"} | more
        answer = self.client.open(
            path, method=method, headers=sent | (headers or {}), **more
        )
        self._check(answer, method, path.partition("?")[0])
        if answer.status_code >= 400 and isinstance(body, dict | list):
            check_pointers(answer.json, body)
        return answer

    def get(self, path, **more):
        return self.send("GET", path, **more)

    def post(self, path, body, **more):
        return self.send("POST", path, body, **more)

    def put(self, path, body, **more):
        return self.send("PUT", path, body, **more)

    def once(self, path, body, name="once-and-no-more", *, headers=None, **more):
        """POST under an Idempotency-Key."""
        named = {"Idempotency-Key": name} | (headers or {})
        return self.post(path, body, headers=named, **more)

    def change(self, path, body, **more):
        """PUT with the entity tag of what is there now."""
        etag = self.get(path.partition("?")[0]).headers["ETag"]
        return self.put(path, body, headers={"If-Match": etag}, **more)

    def counts(self) -> dict[str, int]:
        """How many rows each table has."""
        with self.services.storage.engine.connect() as connection:
            return {
                table: connection.execute(
                    text(f"SELECT count(*) FROM {table}")  # noqa: S608 - our own names
                ).scalar_one()
                for table in TABLES
            }

    def _check(self, answer, method, path):
        assert answer.status_code < 500
        if answer.status_code == 304:
            assert answer.data == b""
            return
        try:
            rule, _ = self.app.url_map.bind("localhost").match(
                path, method, return_rule=True
            )
        except HTTPException:
            media, shape = "application/problem+json", component("Problem")
        else:
            address = rule.rule.replace("<", "{").replace(">", "}")
            media, shape = validator(address, method.lower(), str(answer.status_code))
        if shape is None:
            assert answer.data == b""
            return
        assert answer.mimetype == media
        shape.validate(answer.text if media == "text/csv" else answer.json)
        if answer.status_code >= 400:
            assert answer.json["status"] == answer.status_code


def check_pointers(problem, body):
    """Every pointer leads into what was sent, or to where something is missing."""
    for fault in problem.get("errors", ()):
        if "pointer" not in fault:
            continue
        assert fault["pointer"].startswith("#")
        *parents, _ = [None, *fault["pointer"].split("/")[1:]]
        place = body
        for part in parents[1:]:
            name = unquote(part).replace("~1", "/").replace("~0", "~")
            place = place[int(name)] if isinstance(place, list) else place[name]
        assert isinstance(place, dict | list)


def faults(answer) -> dict[str, str]:
    """What was wrong, by pointer."""
    return {fault["pointer"]: fault["detail"] for fault in answer.json["errors"]}
