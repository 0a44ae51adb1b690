"""How much the heavy tests do: a quick count each day, the full one before a release.

A quick count still reaches every property, every kind of crash and every way in; it
only repeats them less often. `tests/run --thorough` runs the full counts, by setting
TESTS_THOROUGH=1; the end of every run says which it was. The name begins otherwise than
the program's settings, for servers that tests start refuse one they do not know.
"""

from __future__ import annotations

import os

THOROUGH = os.environ.get("TESTS_THOROUGH") == "1"


def thorough(quick, full):
    """`full` in a thorough run, else `quick`; choose quick so that it can still fail.

    KILLS = thorough(quick=15, full=200)
    """
    return full if THOROUGH else quick
