"""A visit's way through a declared page."""

from __future__ import annotations

import pytest

STYLE = "/bench/style"


def test_an_unknown_page_of_the_bench_is_a_page(desk):
    answer = desk.get("/bench/nothing")
    assert answer.status_code == 404
    assert answer.mimetype == "text/html"


def test_what_was_done_is_said_where_it_leads(desk):
    answer = desk.post(STYLE, {"name": "A ring", "price": "12.50"})
    assert answer.status_code == 303
    assert answer.headers["Location"] == f"{STYLE}?done=tried"
    assert "It was read; nothing is kept." in desk.get(answer.headers["Location"]).text


def test_a_name_that_says_nothing_says_nothing(desk):
    page = desk.get(f"{STYLE}?done=%3Cb%3E")
    assert '<p class="said" role="status"></p>' in page.text


@pytest.mark.parametrize("query", ["done=a&done=b", "done=%00"])
def test_a_query_that_means_two_things_or_none_is_refused(desk, query):
    assert desk.get(f"{STYLE}?{query}").status_code == 400


def test_faults_stand_in_the_form_with_what_was_typed(desk):
    answer = desk.post(STYLE, {"name": '"><b>x', "price": "many"})
    assert answer.status_code == 422
    assert "“many” is not a number" in answer.text
    assert 'value="&#34;&gt;&lt;b&gt;x"' in answer.text


def test_a_form_sent_twice_is_done_once_and_leads_to_the_same(desk):
    marks = desk.marks(STYLE)
    sent = marks | {"name": "A ring", "price": "12.50"}
    answers = [desk.client.post(STYLE, data=sent) for _ in range(2)]
    assert [one.headers["Location"] for one in answers] == [f"{STYLE}?done=tried"] * 2


def test_a_mark_used_for_something_else_is_told(desk):
    marks = desk.marks(STYLE)
    desk.client.post(STYLE, data=marks | {"name": "A ring", "price": "12.50"})
    other = desk.client.post(STYLE, data=marks | {"name": "Other", "price": "12.50"})
    assert other.status_code == 400
    assert "was sent before" in other.text
    assert 'value="Other"' in other.text


def test_a_form_without_its_mark_is_not_taken(desk):
    answer = desk.post(STYLE, {"_once": "", "name": "A ring", "price": "1"})
    assert answer.status_code == 400


def test_a_part_is_answered_alone_and_named(desk):
    answer = desk.part(STYLE, "heard", {"name": "A ring", "price": "1234.5"})
    assert answer.headers["X-Part"] == "heard"
    assert "1,234.5" in answer.text
    assert "<html" not in answer.text
    bad = desk.part(STYLE, "heard", {"name": "A ring"})
    assert bad.status_code == 422
    assert bad.headers["X-Part"] == "heard"
    assert "fill it in" in bad.text


def test_an_unknown_part_is_not_there(desk):
    answer = desk.part(STYLE, "other", {"name": "A ring", "price": "1"})
    assert answer.status_code == 404
    assert "X-Part" not in answer.headers


def test_numbers_are_read_as_the_visitor_writes_them(desk):
    desk.headers["Accept-Language"] = "de-AT,de;q=0.9"
    answer = desk.part(STYLE, "heard", {"name": "A ring", "price": "1.234,50"})
    assert "1.234,50" in answer.text.replace("\u00a0", ".")
