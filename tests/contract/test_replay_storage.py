"""What every storage does with answers to replay, counts and secrets."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

from sqlalchemy import text

from api.ports import Answered, Once
from tests.contract.quoting import NOON

HOUR = timedelta(hours=1)
ONCE = Once(credential="k1", operation="quotes.create", key="abc", fingerprint="f" * 64)
ANSWER = Answered(
    status=201,
    headers={"Location": "/v1/quotes/x", "ETag": '"quote-1"', "A": "Ö"},
    body='{"note":"Für \\u0000 Ada"}\n',
)


def find(storage, once=ONCE, since=NOON):
    return storage.read(lambda unit: unit.replays.find(once, since=since))


def add(storage, once=ONCE, answer=ANSWER, at=NOON):
    return storage.write(lambda unit: unit.replays.add(once, answer, at=at))


def test_an_answer_comes_back_as_it_was_sent_with_what_was_asked(any_storage):
    assert find(any_storage) is None
    assert add(any_storage)
    assert find(any_storage) == (ONCE.fingerprint, ANSWER)
    assert list(find(any_storage)[1].headers) == list(ANSWER.headers)
    assert find(any_storage, replace(ONCE, fingerprint="0")) == find(any_storage)


def test_nobody_gets_the_answer_to_another(any_storage):
    add(any_storage)
    for part in ("credential", "operation", "key"):
        other = replace(ONCE, **{part: "other"})
        assert find(any_storage, other) is None
        assert add(any_storage, other, Answered(status=422))
        assert find(any_storage, other) == (ONCE.fingerprint, Answered(status=422))
    assert find(any_storage) == (ONCE.fingerprint, ANSWER)


def test_the_first_answer_stays(any_storage):
    add(any_storage)
    other = replace(ONCE, fingerprint="0")
    assert not add(any_storage, other, Answered(status=422), at=NOON + HOUR)
    assert find(any_storage) == (ONCE.fingerprint, ANSWER)


def test_old_answers_are_not_found_and_make_room_once_forgotten(any_storage):
    moment = timedelta(microseconds=1)
    for key, at in (("old", NOON - moment), ("new", NOON)):
        add(any_storage, replace(ONCE, key=key), at=at)
    old, new = (replace(ONCE, key=key) for key in ("old", "new"))
    assert find(any_storage, old) is None
    assert find(any_storage, old, since=NOON - moment)
    assert not add(any_storage, old)
    forgotten = [
        any_storage.write(lambda unit: unit.replays.forget(before=NOON))
        for _ in range(2)
    ]
    assert forgotten == [1, 0]
    assert find(any_storage, new)
    assert add(any_storage, old)


def test_every_window_of_everyone_is_counted_by_itself(any_storage):
    asked = [("a", 60), ("a", 60), ("b", 60), ("a", 120), ("a", 60), ("b", 2**40)]
    counted = [
        any_storage.count(who, window=window, limit=9).number for who, window in asked
    ]
    assert counted == [1, 2, 1, 1, 3, 1]


def test_nothing_is_counted_beyond_the_limit(any_storage):
    def count(number):
        told = any_storage.count("a", window=60, limit=10, number=number)
        return told and told.number

    assert [count(number) for number in (7, 4, 3, 1)] == [7, None, 10, None]
    any_storage.uncount("a", window=60, number=2)
    assert [count(number) for number in (3, 2, 1)] == [None, 10, None]


def windows(storage):
    with storage.engine.connect() as connection:
        query = text("SELECT who, began FROM quotas ORDER BY who, began")
        return [tuple(row) for row in connection.execute(query)]


def test_windows_are_forgotten_after_a_day(any_storage):
    for began in (60, 120, 180):
        any_storage.count("a", window=began, limit=9)
    assert windows(any_storage) == [("a", 60), ("a", 120), ("a", 180)]
    any_storage.count("b", window=86_400 + 180, limit=9)
    assert windows(any_storage) == [("a", 180), ("b", 86_580)]


def test_a_secret_is_kept_as_it_was_first(any_storage):
    def get(name):
        return any_storage.read(lambda unit: unit.secrets.get(name))

    def add(name, value):
        return any_storage.write(lambda unit: unit.secrets.add(name, value))

    assert get("cursors") is None
    assert add("cursors", "s1")
    assert not add("cursors", "s2")
    assert add("other", "s3")
    assert (get("cursors"), get("other")) == ("s1", "s3")
