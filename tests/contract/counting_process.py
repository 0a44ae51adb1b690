"""Counts requests in a database that another process uses too.

    counting_process.py DATABASE COUNT

Prints the counts it got as a JSON list.
"""

from __future__ import annotations

import json
import sys
from contextlib import closing

from api.db import open_storage


def main(database, times):
    with closing(open_storage(database)) as storage:
        print("ready", flush=True)  # noqa: T201
        sys.stdin.readline()
        counted = [
            storage.count("shared", window=60, limit=times * 9).number
            for _ in range(times)
        ]
    print(json.dumps(counted))  # noqa: T201


if __name__ == "__main__":
    main(sys.argv[1], int(sys.argv[2]))
