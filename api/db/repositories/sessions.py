"""Sessions of browsers, the passphrase, and tries to give it."""

from __future__ import annotations

from datetime import datetime

from sqlalchemy import Connection, delete, insert, or_, select, true, update

from api.db.repositories.upserts import insert_into
from api.db.tables import passphrases, sessions, sign_in_tries
from api.ports.sessions import Session

_BENCH = "bench"


class SessionRepository:
    """The sessions of one transaction."""

    def __init__(self, connection: Connection) -> None:
        self._connection = connection

    def get(self, digest: str) -> Session | None:
        """The session of a digest, or None."""
        query = select(sessions).where(sessions.c.digest == digest)
        row = self._connection.execute(query).one_or_none()
        return None if row is None else Session(**row._mapping)  # noqa: SLF001 - public, whatever its name

    def add(self, session: Session) -> None:
        """Keep a new one."""
        row = {
            "digest": session.digest,
            "signed_in": session.signed_in,
            "created_at": session.created_at,
            "seen_at": session.seen_at,
        }
        self._connection.execute(insert(sessions), row)

    def touch(self, digest: str, *, when: datetime) -> None:
        """Note that it was seen."""
        change = update(sessions).where(sessions.c.digest == digest)
        self._connection.execute(change.values(seen_at=when))

    def remove(self, digest: str) -> bool:
        """Whether it was there and is gone."""
        gone = delete(sessions).where(sessions.c.digest == digest)
        return bool(self._connection.execute(gone.returning(sessions.c.digest)).all())

    def remove_signed_in(self) -> int:
        """End every session that gave the passphrase; how many there were [count]."""
        gone = delete(sessions).where(sessions.c.signed_in == true())
        return len(self._connection.execute(gone.returning(sessions.c.digest)).all())

    def forget(
        self,
        *,
        made_before: datetime,
        signed_in_before: datetime,
        seen_before: datetime,
    ) -> None:
        """Drop old ones: of this machine, and those signed in too long or unseen."""
        over = or_(
            sessions.c.created_at < signed_in_before, sessions.c.seen_at < seen_before
        )
        old = or_(sessions.c.created_at < made_before, sessions.c.signed_in & over)
        self._connection.execute(delete(sessions).where(old))


class SignInRepository:
    """The passphrase, and tries, of one transaction."""

    def __init__(self, connection: Connection) -> None:
        self._connection = connection

    def passphrase(self) -> str | None:
        """What the passphrase is checked by, None where there is none."""
        query = select(passphrases.c.hashed).where(passphrases.c.name == _BENCH)
        found: str | None = self._connection.execute(query).scalar_one_or_none()
        return found

    def keep(self, hashed: str, *, when: datetime) -> None:
        """Keep a passphrase in the place of the one before."""
        row = {"name": _BENCH, "hashed": hashed, "set_at": when}
        put = insert_into(self._connection.dialect, passphrases).values(row)
        put = put.on_conflict_do_update(
            index_elements=["name"], set_={"hashed": hashed, "set_at": when}
        )
        self._connection.execute(put)

    def clear(self) -> bool:
        """Whether there was one."""
        gone = delete(passphrases).returning(passphrases.c.name)
        return bool(self._connection.execute(gone).all())

    def add_try(self, who: str, *, when: datetime) -> int:
        """Note a try; its number."""
        put = insert(sign_in_tries).values(who=who, at=when)
        number: int = self._connection.execute(
            put.returning(sign_in_tries.c.id)
        ).scalar_one()
        return number

    def remove_try(self, number: int) -> None:
        """Forget a try that was right."""
        self._connection.execute(
            delete(sign_in_tries).where(sign_in_tries.c.id == number)
        )

    def tries(self, *, since: datetime, who: str | None = None) -> tuple[datetime, ...]:
        """When there were tries, of one or of all, oldest first."""
        query = select(sign_in_tries.c.at).where(sign_in_tries.c.at > since)
        if who is not None:
            query = query.where(sign_in_tries.c.who == who)
        ordered = query.order_by(sign_in_tries.c.at, sign_in_tries.c.id)
        return tuple(self._connection.execute(ordered).scalars())

    def forget_tries(self, *, before: datetime) -> None:
        """Drop older ones."""
        self._connection.execute(
            delete(sign_in_tries).where(sign_in_tries.c.at < before)
        )
