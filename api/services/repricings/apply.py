"""How the prices of a preview come into force: all at once, and never half.

They are made ready beside the ones in force, some thousand in each transaction, so
that quotes are answered meanwhile. Then one row is switched, and all of them count.
A few thousand are made ready and switched in one transaction.
A process that ends before has changed no price; the run can be applied again and
goes on, or becomes a preview again once it has given no sign of life for a while.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from datetime import timedelta
from threading import Lock

from api.ports import Clock, Conflict, Deed, Place, Repricing, UnitOfWork
from api.services.actor import actor
from api.services.audit import note
from api.services.hooks.events import tell_run
from api.services.repricings.clearing import clear, is_littered, sweep
from api.services.repricings.holds import refuse_unless_it_holds
from api.services.repricings.pace import Pace
from api.services.repricings.refusals import (
    Changed,
    Outdated,
    Overtaken,
    check_status,
    check_version,
    found,
    moved_on,
)
from api.services.snapshots import Snapshots
from pricing.errors import Fault, InvalidInput

STALE_AFTER = timedelta(minutes=5)
"""After so long without a sign of life whoever applied a run is gone."""


def _nobody(_: Repricing) -> None:
    """Whom it is told that a run was begun, where nobody asks."""


class RepricingApply:
    """Applies previews, one at a time."""

    def __init__(self, snapshots: Snapshots, clock: Clock, *, pace: Pace) -> None:
        self._snapshots = snapshots
        self._clock = clock
        self._pace = pace
        self._turn = Lock()
        self._applying = ""

    def apply(
        self,
        run_id: str,
        *,
        expected: int | None,
        include: Sequence[Place] = (),
        begun: Callable[[Repricing], object] = _nobody,
    ) -> Repricing:
        """Put the prices of a preview in force, as `Repricings.apply` says."""
        with self._alone(run_id):
            self.recover(but=run_id)
            sweep(self._snapshots, run_id, self._pace)
            run = self._begun(run_id, expected, include)
            begun(run)
            if run.status == "applied":  # all at once
                return run
            self._make_ready(run)
            return self._switched(run)

    def recover(self, *, but: str = "") -> Repricing | None:
        """Turn a run whose process has ended back into a preview.

        Args:
            but: id of a run that is left as it is.

        Returns:
            The run; None where there is none, or it may still be going on.
        """
        run = self._snapshots.storage.read(lambda unit: unit.repricings.applying())
        if run is None or run.id == but:
            return None
        alive = run.reached_at or run.created_at
        if self._clock.now() - alive < STALE_AFTER:
            return None
        return self._take_back(run)

    @contextmanager
    def _alone(self, run_id: str) -> Iterator[None]:
        """Within this, no other thread of this process applies anything."""
        if not self._turn.acquire(blocking=False):
            raise self._taken(run_id)
        self._applying = run_id
        try:
            yield
        finally:
            self._applying = ""
            self._turn.release()

    def _taken(self, run_id: str) -> Exception:
        if self._applying != run_id:
            return Conflict(
                "another repricing is being applied just now; wait until it is done"
            )
        read = self._snapshots.storage.read
        return moved_on(found(read(lambda unit: unit.repricings.get(run_id)), run_id))

    def _begun(
        self, run_id: str, expected: int | None, include: Sequence[Place]
    ) -> Repricing:
        def begin(unit: UnitOfWork) -> Repricing:
            run = found(unit.repricings.get(run_id), run_id)
            check_version(run, expected)
            check_status(run, "preview", "applying")
            if run.status == "applying":
                return _going_on(run, include)
            if is_littered(run):
                raise moved_on(run)  # by another process, since this one swept it
            _check_named(unit, run, include)
            refuse_unless_it_holds(unit, run)
            deed, named = self._deed(unit), {*include}
            if _bands(run) <= self._pace.at_once:
                applied = unit.repricings.apply_at_once(run, named, deed=deed)
                return _in_force(unit, run, applied, deed=deed)
            begun = unit.repricings.begin(run, named, deed=deed)
            if begun is None:
                raise moved_on(run)
            return begun

        return self._snapshots.write(begin)

    def _make_ready(self, run: Repricing) -> None:
        bands, reached = _bands(run), run.reached

        def make_ready(unit: UnitOfWork) -> int | None:
            return unit.repricings.apply_chunk(
                run.seq, after=reached, size=self._pace.size, at=self._clock.now()
            )

        while (done := self._snapshots.write(make_ready, beside=True)) is not None:
            reached = done
            self._pace.rest(bands)

    def _switched(self, run: Repricing) -> Repricing:
        def switch(unit: UnitOfWork) -> Repricing:
            refuse_unless_it_holds(unit, run)
            deed = self._deed(unit)
            applied = unit.repricings.switch(run, deed=deed)
            return _in_force(unit, run, applied, deed=deed)

        try:
            return self._snapshots.write(switch)
        except (Overtaken, Outdated):
            self._take_back(run)
            raise

    def _take_back(self, run: Repricing) -> Repricing | None:
        """The run as a preview again, with nothing left of what was made ready."""

        def give_up(unit: UnitOfWork) -> Repricing | None:
            given_up = unit.repricings.give_up(run)
            if given_up is not None:
                at, after = self._clock.now(), {"status": "preview"}
                note(unit, at, "repricing.given_up", run.id, after=after)
            return given_up

        given_up = self._snapshots.write(give_up)
        if given_up is not None:
            clear(self._snapshots, given_up, self._pace)
        return given_up

    def _deed(self, unit: UnitOfWork) -> Deed:
        return Deed(
            by=actor().by,
            at=self._clock.now(),
            rev=unit.revisions.bump("listings") or 0,
        )


def _in_force(
    unit: UnitOfWork, run: Repricing, applied: Repricing | None, *, deed: Deed
) -> Repricing:
    """The run as applied, with all that is to be told of it."""
    if applied is None:
        raise moved_on(found(unit.repricings.get(run.id), run.id))
    before, after = {"status": "preview"}, _told(applied)
    note(unit, deed.at, "repricing.applied", run.id, before=before, after=after)
    tell_run(unit, deed.at, run.seq)
    return applied


def _bands(run: Repricing) -> int:
    return sum(run.counts.values())


def _going_on(run: Repricing, include: Sequence[Place]) -> Repricing:
    """The run, to be gone on with as it was begun."""
    if {*include} != {*run.named}:
        raise Conflict(
            f"this repricing was begun with {len(run.named)} of the bands in review "
            "and was cut short; name the same ones to go on with it"
        )
    return run


def _check_named(unit: UnitOfWork, run: Repricing, include: Sequence[Place]) -> None:
    """Let only bands be named that wait for somebody to say so."""
    bands = unit.repricings.at_places(run.seq, {*include})
    faults = []
    for number, place in enumerate(include):
        band, where = bands.get(place), Changed(*place).words
        if band is None:
            said = f"this repricing has no band {where}"
        elif band.decision != "review":
            said = f"the band {where} is not in review: {band.decision}"
        else:
            continue
        faults.append(Fault(("include", number), f"{said}; leave it out"))
    if faults:
        raise InvalidInput(faults[0].message, path=faults[0].path, faults=tuple(faults))


def _told(run: Repricing) -> dict[str, object]:
    named = len(run.named)
    moved = run.counts.get("raise", 0) + run.counts.get("lower", 0) + named
    return {"status": run.status, "bands": moved, "named": named}
