"""Fills a preview of a shop and dies in a part of it: DATABASE PART."""

from __future__ import annotations

import json
import os
import signal
import sys
from contextlib import closing
from datetime import UTC, datetime
from types import SimpleNamespace

from api.db import open_storage
from api.db.repositories import RepricingRepository
from api.services.repricings import preview
from tests.services.repricing import Shop


def die_in(deadly):
    """Let the filling end with its process while that part is written."""
    fill_chunk, parts = RepricingRepository.fill_chunk, iter(range(1, 99))

    def dying(self, *args, **more):
        done = fill_chunk(self, *args, **more)
        if (part := next(parts)) == deadly:  # written, and not committed
            sys.stdout.write(json.dumps({"part": part}))
            sys.stdout.flush()
            os.kill(os.getpid(), signal.SIGKILL)
        return done

    RepricingRepository.fill_chunk = dying


def main(database, deadly):
    preview.MANY = 0
    die_in(deadly)
    with closing(open_storage(database)) as storage:
        clock = SimpleNamespace(now=lambda: datetime.now(UTC))
        Shop(storage, clock, size=2).repricings.preview()


if __name__ == "__main__":
    main(sys.argv[1], int(sys.argv[2]))
