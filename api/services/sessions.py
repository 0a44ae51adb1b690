"""Who is at the bench: browsers of this machine, and those that gave the passphrase.

A browser is known by 256 random bits, of which only a digest is kept. Whoever signs
in gets new ones. Tries are noted before they are judged, so that no number of them at
once goes past the limit.
"""

from __future__ import annotations

import hashlib
import hmac
import math
from contextlib import suppress
from datetime import datetime, timedelta

from api.ports import Clock, Conflict, StorageUnavailable, UnitOfWork
from api.ports.errors import TooManyTries
from api.ports.sessions import Session
from api.services import passphrase
from api.services.audit import note
from api.services.installation import Installation
from api.services.snapshots import Snapshots
from pricing.errors import InvalidInput

IDLE = timedelta(minutes=60)
"""How long a session that signed in may go without asking for a page."""
WHOLE = timedelta(hours=12)
"""How long it lasts at most."""
HERE = timedelta(days=7)
"""How long a browser of this machine is known; it could not be anybody else."""
WINDOW = timedelta(minutes=15)
MOST_OF_ONE, MOST_OF_ALL = 5, 20
"""Wrong passphrases in the window, from one address and from all together."""

_SEEN_EVERY = timedelta(minutes=1)
_WRONG, _PATH = "this is not the passphrase", ("passphrase",)


class Sessions:
    """The sessions of the bench."""

    def __init__(
        self, snapshots: Snapshots, clock: Clock, *, installation: Installation
    ) -> None:
        self._snapshots = snapshots
        self._clock = clock
        self._installation = installation

    def find(self, token: str) -> Session | None:
        """The session of a browser, None where there is none or it is over."""
        storage, now = self._snapshots.storage, self._clock.now()
        digest = _digest(token)
        found = storage.read(lambda unit: unit.sessions.get(digest))
        if found is None or _is_over(found, now):
            return None
        if now - found.seen_at >= _SEEN_EVERY:
            with suppress(StorageUnavailable):  # no page waits for it or fails with it
                storage.write(
                    lambda unit: unit.sessions.touch(digest, when=now), wait=False
                )
        return found

    def begin_here(self, token: str) -> Session:
        """Know a browser of this machine from here on."""
        session = self._new(token, signed_in=False)
        self._snapshots.storage.write(lambda unit: self._add(unit, session))
        return session

    def has_passphrase(self) -> bool:
        """Whether anybody can sign in."""
        read = self._snapshots.storage.read
        return read(lambda unit: unit.sign_in.passphrase()) is not None

    def set_passphrase(self, text: str) -> None:
        """Let this be the passphrase; whoever signed in with another has to again.

        Raises:
            InvalidInput: it may not be one.
        """
        kept, now = passphrase.hashed(passphrase.checked(text)), self._clock.now()

        def keep(unit: UnitOfWork) -> None:
            unit.sign_in.keep(kept, when=now)
            unit.sessions.remove_signed_in()
            note(unit, now, "passphrase.set", "bench")

        self._snapshots.write(keep)

    def clear_passphrase(self) -> None:
        """Let nobody sign in. Raises Conflict where nobody could."""
        now = self._clock.now()

        def clear(unit: UnitOfWork) -> None:
            if not unit.sign_in.clear():
                raise Conflict("there is no passphrase; there is nothing to clear")
            unit.sessions.remove_signed_in()
            note(unit, now, "passphrase.cleared", "bench")

        self._snapshots.write(clear)

    def sign_in(self, given: str, *, new: str, old: str, address: str) -> Session:
        """Begin a session.

        Args:
            given: what may be the passphrase.
            new: what the browser is known by from here on.
            old: what it was known by; that is over.
            address: where it asks from.

        Raises:
            TooManyTries: there were too many wrong ones of late.
            InvalidInput: it is not the passphrase, or there is none.
        """
        who = self._hidden(address)
        number, kept = self._snapshots.storage.write(lambda unit: self._try(unit, who))
        right = passphrase.is_the_one(given, kept or passphrase.NOBODYS)
        now = self._clock.now()
        if not right or kept is None:
            self._snapshots.storage.write(
                lambda unit: note(unit, now, "session.refused", who[:16])
            )
            raise InvalidInput(_WRONG, path=_PATH)
        session = self._new(new, signed_in=True)

        def begin(unit: UnitOfWork) -> None:
            if unit.sign_in.passphrase() != kept:  # another was set meanwhile
                raise InvalidInput(_WRONG, path=_PATH)
            unit.sign_in.remove_try(number)
            unit.sessions.remove(_digest(old))
            self._add(unit, session)
            note(unit, now, "session.begun", session.id)

        self._snapshots.storage.write(begin)
        return session

    def sign_out(self, token: str) -> None:
        """End a session on the server, if there is one."""
        now, digest = self._clock.now(), _digest(token)

        def end(unit: UnitOfWork) -> None:
            if unit.sessions.remove(digest):
                note(unit, now, "session.ended", digest[:16])

        self._snapshots.storage.write(end)

    def sign_out_everywhere(self) -> int:
        """End every session that gave the passphrase; how many there were [count].

        Browsers of this machine stay: they gave none.
        """
        now = self._clock.now()

        def end(unit: UnitOfWork) -> int:
            count = unit.sessions.remove_signed_in()
            if count:
                note(unit, now, "sessions.ended", "bench", after={"sessions": count})
            return count

        return self._snapshots.storage.write(end)

    def _try(self, unit: UnitOfWork, who: str) -> tuple[int, str | None]:
        """Note a try, unless there are too many; its number, and what is kept."""
        now = self._clock.now()
        since = now - WINDOW
        for most, tries in (
            (MOST_OF_ONE, unit.sign_in.tries(since=since, who=who)),
            (MOST_OF_ALL, unit.sign_in.tries(since=since)),
        ):
            if len(tries) >= most:
                wait = tries[-most] + WINDOW - now
                raise TooManyTries(max(1, math.ceil(wait.total_seconds())))
        unit.sign_in.forget_tries(before=since)
        return unit.sign_in.add_try(who, when=now), unit.sign_in.passphrase()

    def _new(self, token: str, *, signed_in: bool) -> Session:
        now = self._clock.now()
        return Session(
            digest=_digest(token), signed_in=signed_in, created_at=now, seen_at=now
        )

    def _add(self, unit: UnitOfWork, session: Session) -> None:
        now = session.created_at
        unit.sessions.forget(
            made_before=now - HERE,
            signed_in_before=now - WHOLE,
            seen_before=now - IDLE,
        )
        unit.sessions.add(session)

    def _hidden(self, address: str) -> str:
        """An address as the table has it, which tells nobody whose it is."""
        secret = self._installation.secret("sign-in")
        return hmac.new(secret, address.encode(), hashlib.sha256).hexdigest()[:32]


def _is_over(session: Session, now: datetime) -> bool:
    age = now - session.created_at
    if not session.signed_in:
        return age >= HERE
    return age >= WHOLE or now - session.seen_at >= IDLE


def _digest(token: str) -> str:
    # A plain digest is enough: the token is 256 random bits.
    return hashlib.sha256(token.encode()).hexdigest()
