"""Stand-ins for the services, and operations that exercise every step of a request."""

from __future__ import annotations

from contextlib import nullcontext
from dataclasses import dataclass, field
from datetime import UTC, datetime
from decimal import Decimal
from typing import Any

from api import ports
from api.endpoint import Call, Examples, Reply, Routes
from api.preconditions import tag
from api.problems import NOT_MAKEABLE
from api.schemas.fields import (
    POSITIVE,
    SHARE_BELOW_ONE,
    Choice,
    Document,
    KeyText,
    LengthText,
    ListOf,
    MoneyText,
    Part,
    QueryInteger,
    RateText,
    StrictBoolean,
    StrictInteger,
    Text,
    UtcTime,
)
from api.security import BENCH, OPEN, SHOP, WINDOW
from api.services.quotas import QuotaStanding
from api.settings import Settings

SETTINGS = Settings(database="unused.db")
TOKENS = {scope: f"fw_{scope}_0123456789abcdef_secret" for scope in ports.SCOPES}
READY = ports.Readiness(database=True, schema=True, writable=True)
LONG_AGO = datetime(2026, 1, 1, tzinfo=UTC)


def bearer(scope: str) -> dict[str, str]:
    return {"Authorization": f"Bearer {TOKENS[scope]}"}


@dataclass
class FakeKeys:
    """Knows one key of each scope; counts what it is asked."""

    asked: list[str] = field(default_factory=list)

    def authenticate(self, token: str) -> ports.KeyRecord:
        self.asked.append(token)
        for scope, known in TOKENS.items():
            if token == known:
                return ports.KeyRecord(
                    id="0123456789abcdef", scope=scope, label="", created_at=LONG_AGO
                )
        raise ports.NotAuthenticated("the service says it in its own words")


@dataclass
class FakeHealth:
    """As ready as it is told to be; counts what it is asked."""

    readiness: ports.Readiness = READY
    asked: int = 0

    def ready(self) -> ports.Readiness:
        self.asked += 1
        return self.readiness


class FakeSnapshots:
    """One view of nothing."""

    def held(self) -> nullcontext[None]:
        return nullcontext()

    def presume(self) -> None:
        return None


@dataclass
class FreeQuotas:
    """Lets everybody pass."""

    def count(self, policy: str, who: str, *, ahead: bool = False) -> QuotaStanding:
        del who
        return QuotaStanding(
            policy=policy, limit=120, left=119, ends_in_s=30, passed=True
        )


@dataclass
class FakeServices:
    """What a request needs; ``fail_with`` is raised by the failing operation."""

    keys: FakeKeys = field(default_factory=FakeKeys)
    health: FakeHealth = field(default_factory=FakeHealth)
    snapshots: FakeSnapshots = field(default_factory=FakeSnapshots)
    quotas: FreeQuotas = field(default_factory=FreeQuotas)
    fail_with: Exception | None = None
    handled: list[Any] = field(default_factory=list)


class Piece(Document):
    """A part inside the test document."""

    label = Text(most=20, required=True)
    mass_g = LengthText(bounds=POSITIVE)


class Ring(Document):
    """A document with a member of every kind."""

    coin = KeyText(required=True)
    price = MoneyText(required=True, bounds=POSITIVE)
    rate = RateText(bounds=SHARE_BELOW_ONE)
    quantity = StrictInteger(least=1, most=1000)
    engraved = StrictBoolean()
    made_at = UtcTime()
    finish = Choice(["matt", "bright"])
    note = Text(most=200, lines=True)
    pieces = ListOf(Part(Piece), most=5)
    spare = Part(Piece, allow_none=True)


class RingAnswer(Document):
    """What the test operations answer."""

    price = MoneyText(required=True)


class Paging(Document):
    """A query with a number in it."""

    limit = QueryInteger(least=1, most=100)


class RingPath(Document):
    """The key in an address."""

    key = KeyText(required=True)


probe = Routes("probe", title="Probe rings", about="For tests only.")
ANSWER = {"price": "12.50"}


@probe.operation(
    "POST",
    "/v1/probe-rings",
    scope=BENCH,
    summary="Take a ring",
    body=Ring(),
    answers={201: RingAnswer()},
    problems=(NOT_MAKEABLE,),
    answer_headers={"Location": "Where it is."},
    examples=Examples(body={"coin": "a_coin", "price": "12.50"}, answer=ANSWER),
)
def take_ring(call: Call) -> Reply:
    """Take a ring.

    It is forgotten at once.
    """
    body = call.body()
    call.services.handled.append(body)
    return Reply({"price": body["price"]}, headers={"Location": "/v1/probe-rings/a"})


@probe.operation(
    "GET",
    "/v1/probe-rings",
    scope=SHOP,
    summary="List rings",
    query=Paging(),
    answers={200: RingAnswer()},
)
def list_rings(call: Call) -> Reply:
    """List rings."""
    call.services.handled.append(call.query)
    return Reply({"price": Decimal("12.50")})


@probe.operation(
    "GET",
    "/v1/probe-rings/<key>",
    scope=WINDOW,
    summary="Read a ring",
    path=RingPath(),
    answers={200: RingAnswer()},
    answer_headers={"ETag": "Its version."},
    examples=Examples(path={"key": "a_coin"}, answer=ANSWER),
)
def read_ring(call: Call) -> Reply:
    """Read a ring."""
    return Reply({"price": Decimal("12.50")}, etag=tag("ring", 3))


@probe.operation(
    "PUT",
    "/v1/probe-rings/<key>",
    scope=BENCH,
    summary="Change a ring",
    path=RingPath(),
    body=Ring(),
    answers={200: RingAnswer(), 204: None},
    conditional=True,
    examples=Examples(path={"key": "a_coin"}, body={"coin": "a", "price": "1"}),
)
def change_ring(call: Call) -> Reply:
    """Change a ring."""
    if call.path["key"] != "a_coin":
        raise ports.NotFound("there is no such ring")
    call.require_match(tag("ring", 3))
    call.services.handled.append(call.body())
    return Reply(status=204, etag=tag("ring", 4))


@probe.operation(
    "POST",
    "/v1/probe-failures",
    scope=OPEN,
    summary="Fail",
    answers={200: RingAnswer()},
)
def fail_by_post(call: Call) -> Reply:
    """Fail as told."""
    raise call.services.fail_with


@probe.operation(
    "GET",
    "/v1/probe-failures",
    scope=OPEN,
    summary="Fail",
    answers={200: RingAnswer()},
)
def fail_by_get(call: Call) -> Reply:
    """Fail as told."""
    raise call.services.fail_with
