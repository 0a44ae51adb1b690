"""Applications lent to one test after another, each time with services of its own.

Routing some two hundred addresses anew takes longer than most tests. An application
knows nothing of a database but through its services, so only these are exchanged.
"""

from __future__ import annotations

from collections import defaultdict
from dataclasses import replace

from api.app import create_app

_resting = defaultdict(list)


class Lent:
    """The services of whoever has the application now."""

    def __init__(self):
        self.of = None

    def __getattr__(self, name):
        return getattr(self.of, name)


def lend(settings, services, **declared):
    """An application for these settings, wherever their database is."""
    resting = _resting[_kind(settings, declared)]
    app = resting.pop() if resting else create_app(settings, Lent(), **declared)
    app.extensions["services"].of = services
    return app


def give_back(app, settings, **declared):
    """Let others have an application that is not needed any more."""
    app.extensions["services"].of = None
    _resting[_kind(settings, declared)].append(app)


def _kind(settings, declared):
    return replace(settings, database="any"), tuple(sorted(declared.items()))
