"""Keys for price tokens: made when needed, changed in time, shown for long enough."""

from __future__ import annotations

from datetime import timedelta

import pytest

from api.services.window.holds import LONGEST_HOURS
from api.services.window.price_tokens import as_jwk
from api.services.window.signing import PUBLISHED_FOR, USED_FOR, Signing, expiry
from pricing.errors import InvalidInput

DAY = timedelta(days=1)


@pytest.fixture
def signing(promises):
    return Signing(promises.snapshots, promises.clock)


def sign(signing, promises, hours=1, **more):
    at = promises.clock.now()
    claims = {
        "jti": "an id",
        "iat": expiry(at),
        "exp": expiry(at + timedelta(hours=hours)),
    }
    write = promises.snapshots.write
    return write(lambda unit: signing.sign(unit, claims | more))


def stored(promises):
    return promises.storage.read(lambda unit: unit.signing_keys.all())


def test_the_first_key_is_made_when_it_is_first_needed(signing, promises):
    assert stored(promises) == ()
    token = sign(signing, promises)
    [key] = stored(promises)
    assert key.created_at == promises.clock.now()
    assert (key.retired_at, bool(key.private)) == (None, True)
    assert signing.published() == [as_jwk(key.public)]
    claims = signing.claims(token)
    assert (claims["iss"], claims["aud"], claims["jti"]) == (
        "fineweight",
        "shop",
        "an id",
    )
    sign(signing, promises)
    assert len(stored(promises)) == 1


def test_asking_for_the_keys_makes_one_too(signing, promises):
    [shown] = signing.published()
    assert "d" not in shown
    assert shown["kid"] == stored(promises)[0].kid
    assert signing.published() == [shown]


def test_a_new_key_takes_over_and_what_was_signed_stays_valid(signing, promises):
    old = sign(signing, promises)
    promises.clock.advance(minutes=1)
    new_key = signing.rotate()
    newer, older = stored(promises)
    assert (newer.kid, newer.retired_at) == (new_key.kid, None)
    assert (older.retired_at, older.private) == (promises.clock.now(), None)
    assert [key["kid"] for key in signing.published()] == [newer.kid, older.kid]
    assert signing.claims(old)["jti"] == "an id"
    assert signing.claims(sign(signing, promises))["jti"] == "an id"


def test_a_key_is_changed_by_itself_after_its_time(signing, promises):
    sign(signing, promises)
    promises.clock.advance(seconds=USED_FOR.total_seconds() - 1)
    sign(signing, promises)
    assert len(stored(promises)) == 1
    promises.clock.advance(seconds=1)
    sign(signing, promises)
    assert len(stored(promises)) == 2


def test_an_old_key_is_shown_for_as_long_as_its_tokens_are_valid(signing, promises):
    assert timedelta(hours=LONGEST_HOURS) < PUBLISHED_FOR
    old = sign(signing, promises, hours=LONGEST_HOURS)
    signing.rotate()
    promises.clock.advance(hours=LONGEST_HOURS, seconds=-1)
    assert signing.claims(old)["jti"] == "an id"
    promises.clock.advance(seconds=1)
    with pytest.raises(InvalidInput, match="has expired"):
        signing.claims(old)
    assert signing.claims(old, expired=True)["jti"] == "an id"
    promises.clock.advance(hours=1)
    assert len(signing.published()) == 1
    with pytest.raises(InvalidInput, match="not one of ours"):
        signing.claims(old, expired=True)


def test_a_token_for_another_audience_is_refused(signing, promises):
    with pytest.raises(InvalidInput, match="somebody else"):
        signing.claims(sign(signing, promises, aud="bench"))


def test_a_change_of_key_is_noted_without_the_key(signing, promises):
    key = signing.rotate()
    assert promises.entries("signing_key") == [
        ("signing_key.created", key.kid, None, None)
    ]


def test_two_processes_sign_with_one_key(signing, promises):
    other = Signing(promises.snapshots, promises.clock)
    token = sign(other, promises)
    assert signing.claims(token)["jti"] == "an id"
    signing.rotate()
    assert other.claims(sign(other, promises))["jti"] == "an id"
    assert len(stored(promises)) == 2


def test_an_instant_is_told_in_whole_seconds(clock):
    clock.advance(microseconds=999_999)
    assert expiry(clock.now()) == clock.now().timestamp() // 1


def test_all_keys_are_told_the_newest_first(signing, promises):
    assert signing.kept() == ()
    first = signing.rotate()
    promises.clock.advance(hours=1)
    second = signing.rotate()
    told = signing.kept()
    assert [key.kid for key in told] == [second.kid, first.kid]
    assert told[1].private is None
    assert told[1].retired_at == promises.clock.now()
