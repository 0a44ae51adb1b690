"""Files that take long come first, so that none is left for one process at the end.

Loaded by tests/run, where a file stays with one process. Files with slow tests come
first, then those that need a database server, then the rest; among themselves they
stay in the order they had, which is a random one.
"""

from __future__ import annotations

import pytest


def weight(item: pytest.Item) -> int:
    """How long a test of its kind takes: 2 is much, 0 is little."""
    if item.get_closest_marker("slow"):
        return 2
    return int("postgres_url" in getattr(item, "fixturenames", ()))


@pytest.hookimpl(trylast=True)
def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Every process sorts alike: the order it had hangs on the run's seed alone."""
    heaviest: dict[str, int] = {}
    for item in items:
        file = item.nodeid.partition("::")[0]
        heaviest[file] = max(heaviest.get(file, 0), weight(item))
    items.sort(key=lambda item: -heaviest[item.nodeid.partition("::")[0]])
