"""How what was made ready for a run is taken away, some thousand bands at a time.

It would come into force with the run, so that a preview is applied only once nothing
is left of an earlier try, which may have had other bands named.
"""

from __future__ import annotations

from api.ports import Repricing, UnitOfWork
from api.services.repricings.pace import Pace
from api.services.snapshots import Snapshots


def clear(snapshots: Snapshots, run: Repricing, pace: Pace) -> None:
    """Take away what was made ready for a run that is not in force.

    No price in force is changed. A run before it, whose prices are in force again,
    can then be undone too.
    """
    bands, reached = sum(run.counts.values()), 0

    def one_chunk(unit: UnitOfWork) -> int | None:
        return unit.repricings.clear_chunk(run.seq, after=reached, size=pace.size)

    while (done := snapshots.write(one_chunk, beside=True)) is not None:
        reached = done
        pace.rest(bands)
    snapshots.write(lambda unit: unit.repricings.cleared(run.seq))


def is_littered(run: Repricing) -> bool:
    """Whether a preview may have something left of an earlier try."""
    return run.status == "preview" and run.reached_at is not None


def sweep(snapshots: Snapshots, run_id: str, pace: Pace) -> None:
    """Clear a preview whose earlier try was given up by a process that then ended."""
    run = snapshots.storage.read(lambda unit: unit.repricings.get(run_id))
    if run is not None and is_littered(run):
        clear(snapshots, run, pace)
