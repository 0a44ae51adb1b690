"""Coins by hand, money, the end of a job and what came of it, on pages."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal
from zoneinfo import ZoneInfo

import pytest

from api.ports.jobs import LoggedCoins
from api.services.jobs.terms import JobAsk
from api.services.quotes.terms import LineAsk, QuoteTerms
from api.web.bench.jobs_words import assumed_words
from tests.browser.bench_site import COIN
from tests.contract.completed_jobs import job as any_job
from tests.contract.completed_jobs import lay
from tests.web.jobs_desk import JOBS, plain, ring, standing, went


@pytest.fixture
def at(desk_on, filled_file, tmp_path):
    return standing(desk_on, filled_file, tmp_path)


@pytest.fixture
def job(at):
    return at.opened(ring(quantity=2))


def completed(at, job, **known):
    money = {name: Decimal(value) for name, value in known.items()}
    return at.bench.jobs.complete(job.id, expected=None, money=money)


def test_a_coin_is_written_down_by_hand(at, job):
    page = at.page(job, "/coins/new")
    assert "Fold over the cone" in page
    sent = {
        "line": "0", "outcome": "scrapped", "stage": "fold", "minutes-fold": "8.25",
        "minutes-punch": "", "visits-fold": "2", "slug_g": "3.61", "note": "split",
    }  # fmt: skip
    answer = at.send(job, "/coins/new", sent)
    assert went(answer) == "/bench/jobs/JOB?line=0&done=corrected"
    (coin,) = at.coins(job)
    assert (coin.outcome, coin.stage, coin.note) == ("scrapped", "fold", "split")
    assert (coin.minutes, coin.visits) == ({"fold": Decimal("8.25")}, {"fold": 2})


def test_a_coin_that_cannot_be_is_told_by_its_fields(at, job):
    sent = {"line": "0", "outcome": "good", "stage": "fold", "minutes-fold": "x"}
    answer = at.send(job, "/coins/new", sent)
    assert answer.status_code == 422
    assert 'id="e-minutes-fold"' in answer.text
    assert 'value="x"' in answer.text
    answer = at.send(job, "/coins/new", sent | {"minutes-fold": "8"})
    assert 'id="e-stage"' in answer.text
    assert at.coins(job) == ()


def test_minutes_are_read_as_the_maker_s_country_writes_them(at, job):
    at.desk.headers["Accept-Language"] = "de-AT"
    at.send(job, "/coins/new", {"line": "0", "outcome": "good", "minutes-fold": "8,25"})
    assert at.coins(job)[0].minutes == {"fold": Decimal("8.25")}
    assert 'value="8,25"' in at.desk.get(f"{JOBS}/{job.id}/coins/1").text


def test_a_coin_is_corrected_in_the_version_that_was_seen(at, job):
    at.coin(job, "scrapped", stage="fold", minutes={"fold": "8.25"})
    assert "Coin no. 1" in at.page(job, "/coins/1")
    sent = {"line": "0", "outcome": "good", "stage": "", "minutes-fold": "9"}
    assert went(at.send(job, "/coins/1", sent)).endswith("done=corrected")
    (coin,) = at.coins(job)
    assert (coin.outcome, coin.minutes["fold"]) == ("good", 9)
    answer = at.send(job, "/coins/1", sent | {"_version": "1"})
    assert answer.status_code == 412
    assert "Somebody changed this" in plain(answer.text)
    assert 'name="_version" value="1"' in answer.text
    assert at.send(job, "/coins/1", sent | {"_version": ""}).status_code == 409
    money = at.send(job, "/money", {"_version": "1", "labour_rate": "31"})
    assert money.status_code == 412
    assert 'name="_version" value="1"' in money.text


def test_a_coin_that_was_not_timed_can_be_struck_out(at, job):
    at.coin(job)
    assert "It is good. Its minutes" in at.page(job, "/coins/1/remove")
    assert went(at.send(job, "/coins/1/remove")).endswith("done=removed")


def test_a_coin_is_struck_out_after_a_second_look(at, job):
    at.coin(job, minutes={"fold": "8.25"})
    assert "It is good, with 8.25 minutes" in at.page(job, "/coins/1/remove")
    assert went(at.send(job, "/coins/1/remove")).endswith("done=removed")
    assert at.coins(job) == ()
    for n in ("1", "none"):
        answer = at.desk.get(f"{JOBS}/{job.id}/coins/{n}")
        assert answer.status_code == 404


def test_money_and_coins_stand_beside_their_plan(at, job):
    page = at.page(job, "/money")
    assert "What the buyer paid for the goods, tax and all. Planned €329.90." in page
    assert "planned 2.2086 coins at €17.99" in page
    sent = {
        "sold_price": "350", "fees": "9.9", "tax": "", "coins-0-count": "2",
        "coins-0-unit_cost": "18.2", "coins-1-count": "", "coins-1-unit_cost": "",
    }  # fmt: skip
    assert went(at.send(job, "/money", sent)) == "/bench/jobs/JOB?done=kept"
    document = at.bench.jobs.document(at.now(job))
    assert (document["sold_price"], document["fees"]) == (350, Decimal("9.9"))
    assert document["tax"] is None
    page = at.page(job)
    assert "Sold for €350.00 €329.90" in page
    assert "2 coins taken €18.20 each" in page
    drawn = at.desk.get(f"{JOBS}/{job.id}/money").text
    for name, value in (("sold_price", "350"), ("coins-0-count", "2")):
        assert f'name="{name}" type="text" value="{value}"' in drawn
    assert 'name="coins-2-count"' in drawn


def test_money_that_cannot_be_used_comes_back_as_typed(at, job):
    sent = {"sold_price": "much", "coins-0-count": "2", "coins-0-unit_cost": ""}
    answer = at.send(job, "/money", sent)
    assert answer.status_code == 422
    for name in ("sold_price", "coins-0-unit_cost"):
        assert f'id="e-{name}"' in answer.text
    assert 'value="much"' in answer.text


def test_coins_of_a_pair_say_which_ring_they_are_for(at):
    job = at.pair()
    sent = {
        "coins-0-line": "", "coins-0-count": "1", "coins-0-unit_cost": "17",
        "coins-1-line": "1", "coins-1-count": "2", "coins-1-unit_cost": "16",
        "coins-2-line": "", "coins-2-count": "", "coins-2-unit_cost": "",
    }  # fmt: skip
    at.send(job, "/money", sent)
    taken = at.bench.jobs.log(at.now(job)).coins
    assert taken == (
        LoggedCoins(line=0, count=1, unit_cost=Decimal(17)),
        LoggedCoins(line=1, count=2, unit_cost=Decimal(16)),
    )
    drawn = at.desk.get(f"{JOBS}/{job.id}/money").text
    assert '<option value="1" selected>' in drawn


def test_a_job_is_done_after_a_second_look(at, job):
    at.coin(job)
    keep = {"sold_price": "350", "_do": "end"}
    assert went(at.send(job, "/money", keep)) == "/bench/jobs/JOB/done?done=kept"
    page = at.page(job, "/done")
    assert "1 of the 2 promised is not written down as good" in page
    assert "Sold for: €350.00 , planned €329.90" in page
    assert "Fees: as planned" in page
    assert "Tax in both: the planned share of what was paid; planned €" in page
    assert went(at.send(job, "/done")) == "/bench/jobs/JOB?done=completed"
    assert at.now(job).status == "completed"
    assert "is done already" in at.page(job, "/done")
    assert at.send(job, "/done", at.desk.marks(f"{JOBS}")).status_code == 409


def test_what_still_goes_on_is_said_before_the_end(at, job):
    at.coin(job, "open")
    at.bench.stopwatch.start(job.id, "fold")
    page = at.page(job, "/done")
    assert "A stopwatch still runs Fold over the cone is being timed" in page
    assert "Coin no. 1 is still at the bench" in page
    answer = at.send(job, "/done")
    assert answer.status_code == 409
    assert "A stopwatch runs for job" in plain(answer.text)


def test_a_job_may_have_been_done_earlier_but_not_later(at, job):
    at.clock.time += timedelta(days=3)
    done = at.clock.time - timedelta(days=2)
    sent = {"completed_at": done.strftime("%Y-%m-%dT%H:%M")}
    late = {"completed_at": "2099-01-01T10:00"}
    answer = at.send(job, "/done", late)
    assert answer.status_code == 422
    assert "This is still to come" in plain(answer.text)
    assert went(at.send(job, "/done", sent)).endswith("done=completed")
    assert at.now(job).completed_day == done.date()


def test_what_came_of_a_job_adds_up_on_its_page(at, job):
    at.coin(job, minutes={"fold": "20"})
    at.coin(job, "scrapped", stage="fold", minutes={"fold": "8"})
    completed(at, job, sold_price="350")
    answer = at.desk.get(f"{JOBS}/{job.id}")
    page = plain(answer.text)
    result = at.now(job).result
    assert f"Realised margin €{result.margin}" in page
    assert "than planned" in page
    for part in ("Price €", "Spoilage", "Bench time", "Overhead"):
        assert part in page
    assert "<svg" in answer.text
    assert "Taken as planned, since it was not written down: shipping charged" in page
    assert "the share of tax in both" in page
    assert "Coins put to work" in page
    assert "Start 1." not in page
    assert "Take it back to the bench" in page


def test_a_job_under_its_floor_says_what_took_it(at, job):
    completed(at, job, sold_price="120")
    page = at.page(job)
    assert "under the floor Most was lost by price" in page
    assert "under the floor" in plain(at.desk.get(JOBS).text)


def test_a_job_that_was_planned_under_its_floor_says_so(at):
    cheap = LineAsk(coin=COIN, wish=ring(), unit_price=Decimal(95))
    quotes = at.desk.services.quotes
    quote = quotes.accept(quotes.create([cheap], QuoteTerms()).id, expected=None)
    page = at.page(completed(at, at.bench.jobs.open(JobAsk(quote=quote.id))))
    assert "under the floor It was planned so." in page


def test_jobs_in_other_currencies_are_told_of_on_the_page_of_the_week(at):
    lay(at.desk.services.storage, (any_job(currency="GBP"), [], []))
    page = plain(at.desk.get("/bench/week/2026-W48").text)
    assert "Jobs left out, in other currencies: 1." in page


def test_a_job_just_as_planned_says_so(at, job):
    completed(at, job)
    page = at.page(job)
    assert "just as planned" in page
    assert "None was put to work yet: all is taken as planned" in page


def test_a_completed_job_is_corrected_where_it_is(at, job):
    completed(at, job)
    page = at.page(job, "/money")
    assert "what it came to is worked out anew" in page
    assert "Done at" in page
    margin, done = at.now(job).result.margin, at.now(job).completed_at
    shown = done.astimezone(ZoneInfo("Europe/Vienna")).strftime("%Y-%m-%dT%H:%M")
    at.send(job, "/money", {"completed_at": shown})
    assert at.now(job).completed_at == done  # to the second: it was not touched
    day = at.clock.time - timedelta(days=7)
    sent = {"sold_price": "350", "completed_at": day.strftime("%Y-%m-%dT%H:%M")}
    assert went(at.send(job, "/money", sent)).endswith("done=kept")
    assert at.now(job).result.margin > margin
    assert at.now(job).completed_day == day.date()


def test_a_job_goes_back_to_the_bench_after_a_second_look(at, job):
    completed(at, job)
    assert "It leaves week" in at.page(job, "/reopen")
    assert went(at.send(job, "/reopen")).endswith("done=reopened")
    assert at.now(job).status == "open"
    assert "is at the bench already" in at.page(job, "/reopen")


def test_a_completed_job_takes_no_more_work(at, job):
    marks = at.desk.marks(f"{JOBS}/{job.id}")
    completed(at, job)
    answer = at.desk.post(f"{JOBS}/{job.id}", marks | {"_do": "start-fold"}, drawn=JOBS)
    assert answer.status_code == 409
    assert "is completed; reopen it first" in plain(answer.text)


def test_what_was_not_written_down_is_named_once():
    assert assumed_words(
        ["fees", "lines[0].minutes", "lines[1].minutes", "lines[0].unit_cost", "other"]
    ) == ["fees", "minutes", "what the coins cost", "other"]


def test_what_is_taken_as_planned_is_told_in_words(at, job):
    at.coin(job, minutes={"fold": "8"})
    page = at.page(completed(at, job, fees="3"))
    said = page.partition("was not written down: ")[2].partition(".")[0]
    assert said.split(", ") == [
        *("sold for", "shipping charged", "the share of tax in both", "shipping paid"),
        *("metal sold", "wage of an hour", "consumables and tools"),
        *("what the coins cost", "rings that no coin was written down for"),
        "some minutes",
    ]
