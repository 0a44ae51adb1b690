"""The pages of jobs: what is at the bench, what was sold, what is done; opening one."""

from __future__ import annotations

import re
from datetime import timedelta

import pytest

from api.web.bench import jobs as jobs_module
from tests.web.jobs_desk import JOBS, plain, standing, went


@pytest.fixture
def at(desk_on, filled_file, tmp_path):
    return standing(desk_on, filled_file, tmp_path)


def test_a_workshop_without_a_price_book_is_led_to_begin(empty_desk):
    for path in (JOBS, f"{JOBS}/new", f"{JOBS}/import"):
        page = empty_desk.get(path)
        assert page.status_code == 200
        assert "/bench/begin" in page.text


def test_an_empty_bench_says_so_and_offers_what_was_sold(at):
    page = plain(at.desk.get(JOBS).text)
    assert "Nothing is at the bench" in page
    assert "Sold, and not begun 2026-" in page
    assert "No job was completed in this week" in page


def test_what_is_timed_stands_on_top_with_its_minutes(at):
    timed, other = at.opened(reference="K-17"), at.opened()
    at.coin(other, "scrapped", stage="fold")
    at.coin(other, "open")
    at.bench.stopwatch.start(timed.id, "fold")
    at.clock.time += timedelta(minutes=12, seconds=20)
    answer = at.desk.get(JOBS)
    page = plain(answer.text)
    assert page.index(timed.number) < page.index(other.number)
    assert 'data-ran="740">12 min<' in answer.text
    assert "K-17 12 min being timed at Fold over the cone" in page
    assert "0 of 1 good, 1 scrapped, 1 in hand" in page
    at.clock.time += timedelta(hours=12)
    assert "forgotten at Fold" in plain(at.desk.get(JOBS).text)


def test_a_job_is_opened_for_what_was_sold_and_once_only(at):
    quote = at.sold()
    sent = {"quote_id": quote.id}
    answer = at.desk.post(f"{JOBS}/new", sent, drawn=JOBS)
    assert went(answer) == "/bench/jobs/JOB?done=opened"
    page = plain(at.desk.get(JOBS).text)
    assert quote.number not in page
    again = at.desk.post(f"{JOBS}/new", sent, drawn=f"{JOBS}/new?sku=ring-50s-box")
    assert again.status_code == 409
    assert "already" in plain(again.text)


def test_the_same_form_sent_twice_opens_one_job(at):
    marks = at.desk.marks(JOBS)
    sent = marks | {"quote_id": at.sold().id}
    first, second = (at.desk.post(f"{JOBS}/new", sent, drawn=JOBS) for _ in range(2))
    assert first.headers["Location"] == second.headers["Location"]
    assert len(at.bench.at_bench.now().jobs) == 1


def test_a_quote_that_is_not_accepted_has_no_job(at):
    waiting = at.promised()
    answer = at.desk.post(f"{JOBS}/new", {"quote_id": waiting.id}, drawn=JOBS)
    assert answer.status_code == 409
    assert "is open; a job is opened once it is accepted" in plain(answer.text)


def test_more_that_was_sold_is_counted(at, monkeypatch):
    monkeypatch.setattr(jobs_module, "SOLD_SHOWN", 1)
    at.sold()
    assert "And 1 more, which come up" in plain(at.desk.get(JOBS).text)


def test_a_listing_is_chosen_by_its_words_then_its_size(at):
    page = at.desk.get(f"{JOBS}/new")
    assert "ring-50s-box, made to order" in plain(page.text)
    assert "No listing is like that" in at.desk.get(f"{JOBS}/new?text=zzz").text
    found = at.desk.get(f"{JOBS}/new?text=50s")
    sku = re.search(r"new\?sku=([\w-]+)", found.text)[1]
    form = at.desk.get(f"{JOBS}/new?sku={sku}")
    size = re.search(r'<option value="([\d.]+)">US \1 · ISO \d+', form.text)[1]
    sent = {
        "sku": sku, "size-system": "us", "size-size": size, "quantity": "2",
        "reference": "Envelope 9",
    }  # fmt: skip
    answer = at.desk.post(f"{JOBS}/new", sent, drawn=f"{JOBS}/new?sku={sku}")
    job = at.bench.jobs.find("Envelope 9")
    assert answer.headers["Location"] == f"{JOBS}/{job.id}?done=opened"
    assert (job.sku, job.pieces) == (sku, 2)
    assert f"US {size}" in at.page(job)


def test_a_form_that_cannot_be_used_keeps_what_was_typed(at):
    sku = "ring-50s-box"
    sent = {"sku": sku, "size-system": "us", "size-size": "10", "quantity": "two"}
    answer = at.desk.post(f"{JOBS}/new", sent, drawn=f"{JOBS}/new?sku={sku}")
    assert answer.status_code == 422
    assert 'value="two"' in answer.text
    assert "nothing was changed" in plain(answer.text)


def test_a_listing_that_is_gone_is_said(at):
    page = at.desk.get(f"{JOBS}/new?sku=gone")
    assert page.status_code == 200
    assert "There is no listing “gone”" in plain(page.text)


@pytest.mark.parametrize("text", ["K-17", "j2026", "schilling"])
def test_a_job_is_found_by_number_name_or_words(at, text):
    job = at.opened(reference="K-17")
    page = plain(at.desk.get(f"{JOBS}?text={text}").text)
    assert job.number in page
    assert "No job is like that" in at.desk.get(f"{JOBS}?text=zzz").text


def test_the_completed_are_shown_week_by_week(at):
    job = at.opened()
    at.bench.jobs.complete(job.id, expected=None)
    this = at.bench.margin_checks.this_week()
    page = plain(at.desk.get(JOBS).text)
    assert f"Done in {this}" in page
    assert job.number in page
    assert "kept" in page
    before = at.desk.get(f"{JOBS}?week={this.plus(-1)}")
    assert job.number not in before.text
    assert "No job was completed in that week" in plain(before.text)
    assert f"?week={this}#done" in before.text
    assert f"Done in {this}" in plain(at.desk.get(f"{JOBS}?week=never").text)


def test_many_jobs_come_page_by_page(at, monkeypatch):
    monkeypatch.setattr(jobs_module, "SHOWN", 1)
    old, new = at.opened(), at.opened()
    first = at.desk.get(f"{JOBS}?text=J2026")
    assert new.number in first.text
    assert old.number not in first.text
    older = re.search(r'rel="next" href="([^"]+)"', first.text)[1]
    second = at.desk.get(older.replace("&amp;", "&"))
    assert old.number in second.text
    newer = re.search(r'rel="prev" href="([^"]+)"', second.text)[1]
    assert new.number in at.desk.get(newer.replace("&amp;", "&")).text
