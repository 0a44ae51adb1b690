"""Counting ahead: few statements, and never a request more or less than allowed."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor

import pytest
from hypothesis import given
from hypothesis import strategies as st

from api.ports import Counted, Revisions, StorageUnavailable
from api.services import Keys, Snapshots
from api.services.counting_ahead import (
    GIVEN_BACK_AFTER_S,
    GOOD_FOR_S,
    SHARE,
    CountingAhead,
)

MANY = 10_000
QUICK_S = GOOD_FOR_S / 100
REVISIONS = Revisions(*(0 for _ in Revisions._fields))


class Process:
    """One process that counts, and what it has put off until later."""

    def __init__(self, snapshots, time):
        self.snapshots = snapshots
        self.later = []
        self._ahead = CountingAhead(
            snapshots, now_s=lambda: time[0], later=lambda _, do: self.later.append(do)
        )
        self.count_ = self._ahead.count
        self.give_back = self._ahead.give_back

    def count(self, limit=MANY, window=60):
        return self.count_("anyone", window, limit)

    def do_what_was_put_off(self):
        due, self.later[:] = list(self.later), []
        for work in due:
            work()


class Table:
    """A storage that only counts, in memory."""

    def __init__(self):
        self.counted = {}
        self.statements = 0
        self.failing = False

    def count(self, partition, *, window, limit, number):
        self._state()
        now = self.counted.get((partition, window), 0) + number
        if now > limit:
            return None
        self.counted[partition, window] = now
        return Counted(now, REVISIONS)

    def uncount(self, partition, *, window, number):
        self._state()
        self.counted[partition, window] -= number

    def _state(self):
        self.statements += 1
        if self.failing:
            raise StorageUnavailable("not now")


@pytest.fixture
def time():
    return [1000.0]


@pytest.fixture
def table():
    return Table()


@pytest.fixture
def process(table, clock, time):
    return Process(Snapshots(table, clock), time)


def test_slow_callers_are_counted_one_by_one(process, table, time):
    for number in range(1, 6):
        assert process.count() == number
        assert table.statements == number
        time[0] += 3 * GOOD_FOR_S
    assert process.later == []


def test_quick_callers_have_more_and_more_counted_at_once(process, table, time):
    asked = []
    for number in range(1, 128):
        assert process.count() == number
        asked.append(table.statements)
        time[0] += QUICK_S
    # After 1, 2, 4, 8 and 16, then 32 each time.
    assert [asked.index(n) for n in range(1, 8)] == [0, 1, 3, 7, 15, 31, 63]
    assert table.counted["anyone", 60] == 127


def test_it_expects_as_many_as_came_in_the_time_before(process, table, time):
    for _ in range(31 + 5):  # 5 of the last 16
        process.count()
        time[0] += QUICK_S
    time[0] += GOOD_FOR_S
    before = table.counted["anyone", 60]
    process.count()
    assert table.counted["anyone", 60] == before + 1  # 11 were left
    time[0] += 3 * GOOD_FOR_S
    before = table.counted["anyone", 60]
    process.count()
    assert table.counted["anyone", 60] == before + 1


def test_what_was_counted_ahead_is_no_use_after_its_time(process, table, time):
    for _ in range(4):
        process.count()
    statements = table.statements
    time[0] += GOOD_FOR_S
    assert process.count() == 5
    assert table.statements == statements + 1


@pytest.mark.parametrize("limit", [1, SHARE, 50])
def test_near_its_end_a_quota_is_counted_one_by_one(process, table, limit):
    passed = [process.count(limit) for _ in range(limit + 3)]
    assert passed == [*range(1, limit + 1), None, None, None]
    assert table.counted["anyone", 60] == limit


def test_a_new_window_is_counted_for_itself(process, table):
    for _ in range(4):
        process.count()
    assert process.count(window=120) == 1
    assert process.count() == 5
    assert table.counted["anyone", 120] == 1


def test_what_nobody_came_for_is_given_back(process, table, time):
    for _ in range(5):
        process.count()
    assert table.counted["anyone", 60] == 7
    process.do_what_was_put_off()
    assert table.counted["anyone", 60] == 7  # somebody may still come
    time[0] += GIVEN_BACK_AFTER_S
    process.do_what_was_put_off()
    assert table.counted["anyone", 60] == 5
    assert process.later == []
    assert process.count() == 6


def test_it_is_given_back_at_once_when_the_process_ends(process, table):
    for _ in range(5):
        process.count()
    process.give_back(all_of_it=True)
    assert table.counted["anyone", 60] == 5
    process.do_what_was_put_off()
    assert table.counted["anyone", 60] == 5
    assert process.later == []


def test_what_cannot_be_given_back_now_is_later(process, table, time):
    for _ in range(5):
        process.count()
    time[0] += GIVEN_BACK_AFTER_S
    table.failing = True
    process.do_what_was_put_off()
    table.failing = False
    process.do_what_was_put_off()
    assert table.counted["anyone", 60] == 5


def test_what_can_never_be_given_back_is_let_go(process, table, time):
    for _ in range(5):
        process.count()
    table.failing = True
    time[0] += 59
    process.do_what_was_put_off()
    assert process.later
    time[0] += 2
    process.do_what_was_put_off()
    assert process.later == []


def test_what_is_left_of_several_windows_is_given_back_together(process, table, time):
    for window in (60, 120, 180):
        for _ in range(5):
            process.count(window=window)
    assert len(process.later) == 1
    time[0] += GIVEN_BACK_AFTER_S
    process.do_what_was_put_off()
    assert set(table.counted.values()) == {5}
    for _ in range(4):
        process.count(window=240)
    assert len(process.later) == 1


def test_nobody_is_let_pass_uncounted(process, table, time):
    process.count()
    table.failing = True
    time[0] += GOOD_FOR_S
    with pytest.raises(StorageUnavailable):
        process.count()
    table.failing = False
    assert process.count() == 2


def test_who_cannot_wait_for_the_turn_is_counted_alone(process, table):
    process.count()
    caller = process._ahead._of("anyone", 60)
    with caller.turn:
        assert process.count() == 2
        assert process.count(limit=2) is None
    assert process.count() == 3


def test_how_many_callers_are_remembered_is_bounded(process, table, monkeypatch):
    monkeypatch.setattr("api.services.counting_ahead._MOST_CALLERS", 2)
    for window in range(60, 600, 60):
        for _ in range(3):
            process.count(window=window)
    assert len(process._ahead._callers) <= 2
    process.give_back(all_of_it=True)
    assert set(table.counted.values()) == {3}


steps = st.lists(
    st.tuples(
        st.sampled_from(["count", "count", "count", "wait", "give back"]),
        st.integers(0, 2),
        st.integers(1, 12),
    ),
    max_size=60,
)


@given(steps, st.integers(1, 120))
def test_processes_together_let_pass_what_is_allowed_and_no_less(asked, limit):
    table, time = Table(), [0.0]
    processes = [Process(Snapshots(table, None), time) for _ in range(3)]
    passed = 0
    for step, which, times in asked:
        if step == "count":
            told = [processes[which].count(limit) for _ in range(times)]
            passed += sum(number is not None for number in told)
        elif step == "wait":
            time[0] += times * GOOD_FOR_S / 3
        else:
            processes[which].do_what_was_put_off()
        assert passed <= table.counted.get(("anyone", 60), 0) <= limit
    time[0] += GIVEN_BACK_AFTER_S
    for process in processes:
        process.do_what_was_put_off()
    assert table.counted.get(("anyone", 60), 0) == passed
    while processes[0].count(limit) is not None:
        passed += 1
    assert passed == limit


def test_threads_together_are_all_counted(any_storage, clock):
    limit = 300
    ahead = CountingAhead(Snapshots(any_storage, clock))

    def count(_=None):
        return ahead.count("anyone", 60, limit)

    with ThreadPoolExecutor(8) as pool:
        passed = sum(told is not None for told in pool.map(count, range(400)))
    ahead.give_back(all_of_it=True)
    while count() is not None:
        passed += 1
    assert passed == limit


def held_count(process):
    """The snapshot that a counted request sees, and the one it presumed."""
    with process.snapshots.held():
        presumed = process.snapshots.presume()
        process.count()
        return process.snapshots.take(), presumed


def test_a_change_of_the_process_itself_is_seen_at_once(storage, clock, time):
    process = Process(Snapshots(storage, clock), time)
    process.snapshots.take()
    for _ in range(4):
        held_count(process)
    Keys(process.snapshots, clock).create("bench", "Here")
    seen, _ = held_count(process)
    assert len(seen.keys) == 1


def test_a_change_of_another_process_is_seen_after_a_moment(storage, clock, time):
    process = Process(Snapshots(storage, clock), time)
    process.snapshots.take()
    for _ in range(4):
        held_count(process)
    Keys(Snapshots(storage, clock), clock).create("bench", "Elsewhere")
    time[0] += GOOD_FOR_S
    seen, presumed = held_count(process)
    assert len(seen.keys) == 1
    assert not presumed.keys


def test_what_is_left_of_a_quota_is_used_on_what_is_stored_now(storage, clock, time):
    process = Process(Snapshots(storage, clock), time)
    process.snapshots.take()
    for _ in range(5):
        process.count(limit=60)
    storage.count("anyone", window=60, limit=60, number=60 - 7)  # 2 are left here
    Keys(Snapshots(storage, clock), clock).create("bench", "Elsewhere")
    time[0] += GOOD_FOR_S
    with process.snapshots.held():
        process.snapshots.presume()
        assert process.count(limit=60) is not None
        assert len(process.snapshots.take().keys) == 1
    assert [process.count(limit=60) is None for _ in range(2)] == [False, True]
