"""What every storage does with the keys that held prices are signed with."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest
from sqlalchemy import text

from api.ports.signing import SigningKey
from tests.contract.quoting import NOON

KEY = SigningKey(kid="b", public="p", private="s", created_at=NOON)
LATER = NOON + timedelta(days=90, microseconds=5)


def add(storage, *keys):
    for key in keys:
        storage.write(lambda unit, key=key: unit.signing_keys.add(key))


def found(storage):
    return storage.read(lambda unit: unit.signing_keys.all())


def test_keys_are_kept_newest_first(any_storage):
    assert found(any_storage) == ()
    newer = replace(KEY, kid="A", created_at=LATER)
    old = replace(KEY, kid="c", private=None, retired_at=LATER)
    add(any_storage, old, newer, KEY)
    assert found(any_storage) == (newer, KEY, old)


def test_a_retired_key_signs_no_more_and_is_retired_once(any_storage):
    add(any_storage, KEY)

    def retire(at, kid="b"):
        return any_storage.write(lambda unit: unit.signing_keys.retire(kid, at=at))

    assert not retire(NOON, "none")
    assert retire(LATER)
    assert found(any_storage) == (replace(KEY, private=None, retired_at=LATER),)
    assert not retire(NOON)
    assert found(any_storage)[0].retired_at == LATER


@pytest.mark.parametrize(
    "wrong", [{"private": None}, {"retired_at": LATER}], ids=["no private", "retired"]
)
def test_no_key_is_kept_that_could_not_be(any_storage, wrong):
    with pytest.raises(Exception, match="retired_cannot_sign"):
        add(any_storage, replace(KEY, **wrong))
    assert found(any_storage) == ()


def test_a_name_is_used_once(any_storage):
    add(any_storage, KEY)
    with pytest.raises(Exception, match=r"(?i)unique"):
        add(any_storage, replace(KEY, public="another"))
    assert found(any_storage) == (KEY,)


def test_the_private_half_of_a_retired_key_is_nowhere(any_storage):
    add(any_storage, replace(KEY, private="the private half"))
    any_storage.write(lambda unit: unit.signing_keys.retire("b", at=LATER))
    with any_storage.engine.connect() as connection:
        rows = connection.execute(text("SELECT * FROM signing_keys")).all()
    assert "the private half" not in str(rows)
