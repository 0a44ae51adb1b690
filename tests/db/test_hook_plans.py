"""What waits is found by an index, however much was delivered before."""

from __future__ import annotations

import re
from datetime import UTC, datetime

import pytest
from sqlalchemy import insert, text

from api.db.hook_mapping import hook_values, message_values
from api.db.hook_tables import hook_messages, hooks
from api.db.repositories.hook_waiting import all_waiting
from api.ports.hooks import Hook, HookMessage

NOON = datetime(2026, 11, 25, 12, tzinfo=UTC)
DELIVERED, WAITING = 3_000, 30
ALL_OF_IT = re.compile(
    r"SCAN hook_messages|(Seq Scan|pk_hook_messages) on hook_messages"
)


def message(number):
    status = "waiting" if number >= DELIVERED else "delivered"
    return HookMessage(
        id=f"msg_{number}",
        hook="a",
        event="quote.accepted",
        body="{}",
        created_at=NOON,
        due=NOON,
        status=status,
    )


@pytest.fixture(params=["fresh", "known"])
def used(any_storage, request):
    """A workshop that has told its shop much; the planner knows that, or not yet."""
    usual = {"url": "https://shop.example/", "events": (), "secrets": ("hush",)}
    hook = Hook(id="a", created_at=NOON, since=NOON, **usual)
    rows = [message_values(message(n)) for n in range(DELIVERED + WAITING)]
    with any_storage.engine.begin() as connection:
        connection.execute(insert(hooks), hook_values(hook))
        connection.execute(insert(hook_messages), rows)
        if request.param == "known":
            connection.execute(text("ANALYZE"))
    return any_storage


def test_what_waits_is_counted_by_an_index_alone(used):
    with used.engine.connect() as connection:
        lite = connection.dialect.name == "sqlite"
        explain = "EXPLAIN QUERY PLAN" if lite else "EXPLAIN"
        said = all_waiting().compile(connection, compile_kwargs={"literal_binds": True})
        rows = connection.exec_driver_sql(f"{explain} {said}")
        steps = [str(row[-1]).strip() for row in rows]
        assert set(connection.execute(all_waiting())) == {
            ("a", WAITING, 0, None, "", NOON)
        }
    alone = "USING COVERING INDEX" if lite else "Index Only Scan using"
    assert any(alone in step for step in steps if "hook_messages" in step), steps
    assert not any(ALL_OF_IT.search(step) for step in steps), steps
