"""Every operation with every kind of key: let in or kept out as declared."""

from __future__ import annotations

import pytest

from api.app import RESOURCES
from api.security import REACH, Scope

OPERATIONS = [one for routes in RESOURCES for one in routes.operations]
KEYS = (None, "window", "shop", "bench", "revoked")


def expected(scope: Scope, key: str | None) -> int | None:
    """The status of one kept out; None for one let in."""
    if scope is Scope.OPEN:
        return None
    if key in {None, "revoked"}:
        return 401
    return None if scope in REACH[key] else 403


@pytest.mark.parametrize("key", KEYS)
@pytest.mark.parametrize("operation", OPERATIONS, ids=lambda one: one.name)
def test_a_key_is_let_in_or_kept_out_as_declared(one_workshop, operation, key):
    path = operation.rule
    for name, value in (operation.examples.path or {}).items():
        path = path.replace(f"<{name}>", value)
    before = one_workshop.counts()
    answer = one_workshop.send(
        operation.method,
        path,
        operation.examples.body,
        key=key,
        query_string=operation.examples.query or {},
    )
    wanted = expected(operation.scope, key)
    if wanted is None:
        assert answer.status_code not in {401, 403}
        return
    assert answer.status_code == wanted
    assert answer.headers["WWW-Authenticate"].startswith("Bearer")
    assert one_workshop.counts() == before


@pytest.mark.parametrize("operation", OPERATIONS, ids=lambda one: one.name)
def test_what_costs_and_margins_are_read_from_is_for_the_bench_alone(operation):
    public = {
        "convert_ring_size": Scope.WINDOW,
        "read_quote_sheet": Scope.SHOP,
        "accept_quote": Scope.SHOP,
        "list_listings": Scope.SHOP,
        "read_listing": Scope.SHOP,
        "list_window_listings": Scope.WINDOW,
        "read_window_listing": Scope.WINDOW,
        "read_window_offer": Scope.WINDOW,
        "read_window_price": Scope.WINDOW,
        "ask_window_price": Scope.WINDOW,
        "hold_window_price": Scope.WINDOW,
        "read_window_hold": Scope.WINDOW,
    }
    open_to_all = {"read_liveness", "read_readiness", "read_openapi"}
    open_to_all |= {"list_signing_keys"}
    wanted = Scope.OPEN if operation.name in open_to_all else Scope.BENCH
    assert operation.scope is public.get(operation.name, wanted)
