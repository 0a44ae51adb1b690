"""A job at the bench: the stopwatch, the coin in hand, what is to be taken care of."""

from __future__ import annotations

import re
from datetime import timedelta
from decimal import Decimal
from types import SimpleNamespace

import pytest

from api.web.bench.jobs_cautions import cautions_of
from tests.web.jobs_desk import JOBS, plain, ring, standing, went


@pytest.fixture
def at(desk_on, filled_file, tmp_path):
    return standing(desk_on, filled_file, tmp_path)


@pytest.fixture
def job(at):
    return at.opened(ring(quantity=2))


def test_the_stages_stand_in_their_order_with_their_minutes(at, job):
    page = at.page(job)
    assert "Nothing is timed Press the stage you begin." in page
    told = re.findall(r"Start (\d+)\. .*? [\d.]+ min planned", page)
    assert told == [str(n) for n in range(1, 15)]


def test_pressing_a_stage_times_it_and_pressing_again_stops_it(at, job):
    assert went(at.press(job, "start-fold")) == "/bench/jobs/JOB?done=started"
    at.clock.time += timedelta(minutes=9, seconds=30)
    answer = at.desk.get(f"{JOBS}/{job.id}")
    page = plain(answer.text)
    assert "Fold over the cone is being timed 9 min Since" in page
    assert "Stop 5. Fold over the cone" in page
    assert 'data-ran="570"' in answer.text
    assert went(at.press(job, "stop")) == "/bench/jobs/JOB?done=stopped"
    (coin,) = at.coins(job)
    assert (coin.outcome, coin.minutes) == ("open", {"fold": Decimal("9.5")})
    assert "9.5 of " in at.page(job)


def test_another_stage_stops_the_one_that_was_shown(at, job):
    at.press(job, "start-punch")
    at.clock.time += timedelta(minutes=3)
    assert went(at.press(job, "start-fold")).endswith("done=started")
    assert at.coins(job)[0].minutes == {"punch": Decimal(3)}
    assert at.bench.stopwatch.running(job.id)[1].timer.stage == "fold"


def test_a_stopwatch_that_another_hand_started_is_not_stopped_unseen(at, job):
    at.bench.stopwatch.start(job.id, "fold")
    for deed in ("start-punch", "stop", "throw", "good"):
        answer = at.press(job, deed, _seen="")
        assert answer.status_code == 409, deed
    told = plain(at.press(job, "start-punch", _seen="").text)
    assert f"A stopwatch runs for job {job.number} already" in told
    told = plain(at.press(job, "stop", _seen="").text)
    assert "Another stopwatch runs by now than the one this page showed" in told
    assert "Fold over the cone is being timed" in told
    assert at.coins(job) == ()


def test_what_no_longer_runs_cannot_be_stopped(at, job):
    answer = at.press(job, "stop")
    assert answer.status_code == 404
    assert "No stopwatch runs for job" in plain(answer.text)


def test_an_abandoned_stopwatch_can_only_be_thrown_away(at, job):
    at.press(job, "start-fold")
    at.clock.time += timedelta(hours=13)
    page = at.page(job)
    assert "over twelve hours: it was forgotten" in page
    assert "write the minutes into the coin by hand" in page
    answer = at.press(job, "stop")
    assert answer.status_code == 409
    assert "throw it away and enter the minutes" in plain(answer.text)
    assert went(at.press(job, "throw")).endswith("done=thrown")
    assert at.coins(job) == ()
    assert "Nothing is timed" in at.page(job)


def test_a_stage_that_is_not_there_is_refused(at, job):
    assert at.press(job, "start-nowhere").status_code == 422
    answer = at.press(job, "dance")
    assert answer.status_code == 400
    assert "Press one of the buttons of this page" in plain(answer.text)


def test_a_good_coin_takes_the_running_minutes_along(at, job):
    at.press(job, "start-fold")
    at.clock.time += timedelta(minutes=4)
    assert went(at.press(job, "good")).endswith("done=good")
    (coin,) = at.coins(job)
    assert (coin.outcome, coin.minutes["fold"]) == ("good", Decimal(4))
    page = at.page(job)
    assert "Coin no. 2 not begun" in page
    assert "1 of 2 promised are good" in page
    assert "No. 1 good 4 min" in page


def test_a_coin_is_scrapped_at_a_stage(at, job):
    at.press(job, "scrap-fold")
    (coin,) = at.coins(job)
    assert (coin.outcome, coin.stage) == ("scrapped", "fold")
    assert "No. 1 scrapped at Fold over the cone not timed" in at.page(job)


def test_what_a_coin_came_to_is_taken_back_with_its_minutes(at, job):
    at.press(job, "start-fold")
    at.clock.time += timedelta(minutes=4)
    at.press(job, "scrap-fold")
    assert went(at.press(job, "back-1")).endswith("done=back")
    (coin,) = at.coins(job)
    assert (coin.outcome, coin.stage, coin.minutes["fold"]) == ("open", None, 4)


def test_two_coins_of_a_line_are_not_in_hand_at_once(at, job):
    at.coin(job)
    at.coin(job, "open")
    answer = at.press(job, "back-1")
    assert answer.status_code == 409
    assert "Attempt 2 of job" in plain(answer.text)
    assert at.press(job, "back-9").status_code == 404
    assert at.press(job, "back-x").status_code == 404


def test_readings_go_to_the_coin_in_hand_and_blanks_change_nothing(at, job):
    sent = {"slug_g": "3.61", "bored_g": "", "finished_g": ""}
    assert went(at.press(job, "weigh", **sent)).endswith("done=weighed")
    assert "So far 3.61 g; blank leaves it." in at.page(job)
    at.press(job, "weigh", slug_g="", bored_g="0.42", finished_g="")
    (coin,) = at.coins(job)
    assert (coin.slug_g, coin.bored_g) == (Decimal("3.61"), Decimal("0.42"))
    assert coin.finished_g is None


def test_readings_that_cannot_be_are_told_and_kept_as_typed(at, job):
    answer = at.press(job, "weigh", slug_g="heavy", bored_g="", finished_g="")
    assert answer.status_code == 422
    assert 'value="heavy"' in answer.text
    assert 'id="scale" open' in answer.text
    nothing = at.press(job, "weigh", slug_g="", bored_g="", finished_g="")
    assert "Write what the scale says" in plain(nothing.text)


def test_of_two_lines_one_is_in_hand(at):
    job = at.pair()
    page = at.page(job, "?line=1")
    assert "ISO 58 0 of 1 good" in page
    assert went(at.press(job, "start-fold", line=1)) == (
        "/bench/jobs/JOB?line=1&done=started"
    )
    assert at.bench.stopwatch.running(job.id)[1].timer.line == 1
    assert "ISO 58." in at.page(job)  # what is timed is in hand by itself
    at.press(job, "good", line=0)
    assert [(each.line, each.outcome) for each in at.coins(job)] == [(0, "good")]
    at.press(job, "good", line=1)
    assert [each.line for each in at.coins(job)] == [0, 1]
    assert "Nothing is timed" in at.page(job, "?line=99")


def test_the_coin_in_hand_says_which_line_is(at):
    job = at.pair()
    at.coin(job, "open", line=1)
    assert 'line=1" aria-current="true"' in at.desk.get(f"{JOBS}/{job.id}").text


def test_pressing_twice_has_its_effect_once(at, job):
    path = f"{JOBS}/{job.id}"
    sent = at.desk.marks(path) | {"_do": "good"}
    for _ in range(2):
        assert at.desk.post(path, sent).status_code == 303
    assert len(at.coins(job)) == 1


def test_what_hurts_is_said_in_short_with_the_way_to_all(at, job):
    answer = at.desk.get(f"{JOBS}/{job.id}")
    page = plain(answer.text)
    assert "Take care: torch and press" in page
    assert "eye protection" in page
    assert "/bench/words#cautions" in answer.text


def test_cautions_of_a_listing_follow_its_coin(at):
    listings = at.desk.services.listings
    sku = "ring-50s-box"
    size = listings.get(sku).bands[0].size_from
    sent = {"sku": sku, "size-system": "us", "size-size": str(size), "quantity": "1"}
    answer = at.desk.post(f"{JOBS}/new", sent, drawn=f"{JOBS}/new?sku={sku}")
    page = at.desk.get(answer.headers["Location"])
    assert "torch and press, tape off before the torch" in plain(page.text)
    assert "its listing" in page.text


def test_a_coin_that_was_removed_has_no_cautions(at):
    visit = SimpleNamespace(services=at.desk.services, book=None)
    plan = {"lines": [{"coin": "no_such_coin"}]}
    assert cautions_of(visit, SimpleNamespace(quote_id=None), plan) == []


def test_only_the_newest_coins_are_listed(at, job, monkeypatch):
    monkeypatch.setattr("api.web.bench.jobs_view.COINS_SHOWN", 1)
    at.coin(job)
    at.coin(job)
    page = at.page(job)
    assert "No. 2" in page
    assert "No. 1" not in page
    assert "And 1 earlier ones" in page


def test_a_job_that_is_not_there_is_a_page(at):
    answer = at.desk.get(f"{JOBS}/{'A' * 22}")
    assert answer.status_code == 404
    assert "There is no job" in answer.text or "there is no job" in answer.text
