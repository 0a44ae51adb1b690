"""The bench log from a spreadsheet in one act, and back."""

from __future__ import annotations

from datetime import date
from decimal import Decimal

import pytest

from api.ports import Conflict
from api.ports.jobs import JobFilter
from api.services.csv_table import CsvForm, RowsRefused
from api.services.jobs import file_import
from api.services.jobs.files import MOST_ROWS
from tests.services.jobs.test_opening import stock
from tests.services.logbook import attempt, coins, csv, log
from tests.services.promising import DOLLAR, ask

WEEK = "job,outcome,stage,minutes:fold,coins,coin_cost,sold_price,completed_at"


def state(logbook):
    """Everything that there is of jobs."""

    def read(unit):
        jobs = unit.jobs.page(JobFilter(), limit=99, past=None)
        return [(job, unit.jobs.log(jobs)[job.seq]) for job in jobs]

    return logbook.storage.read(read)


def refused(logbook, data, *form, **more):
    """Where a file is wrong, with nothing changed by it."""
    before = state(logbook)
    with pytest.raises(RowsRefused) as error:
        logbook.files.import_csv(data, *form, **more)
    assert state(logbook) == before
    return {(row, column): message for row, column, message in error.value.rows}


def exported(logbook, **more):
    parts = []
    count = logbook.files.export_csv(parts.append, **more)
    return count, "".join(parts)


def week_of(logbook):
    """Two accepted quotes and what a spreadsheet says of the work on them."""
    first, second = logbook.accepted(ask()), logbook.accepted(ask(quantity=2))
    return csv(
        f"{first.number},scrapped,fold,9.5,1,17.2,,",
        f"{first.number},good,,8.25,1,17.4,199,2026-12-01",
        f"{second.number},good,,8.25,,,,",
        f"{second.number},good,,8.25,,,,",
        header=WEEK,
    )


def test_a_week_is_written_down_in_one_act(logbook):
    data = week_of(logbook)
    told = logbook.files.import_csv(data).document()
    assert (told["opened"], told["completed"], told["attempts_added"]) == (2, 1, 4)
    done, still_open = logbook.jobs.get, logbook.jobs.find
    first = still_open(told["changes"][0]["number"])
    assert done(first.id).status == "completed"
    assert first.completed_day == date(2026, 12, 1)
    assert first.result.coins_used == 2
    assert first.result.parts["price"] != 0
    second = still_open(told["changes"][1]["number"])
    assert second.status == "open"
    assert [x.n for x in logbook.log_of(second).attempts] == [1, 2]
    lines, stages = logbook.storage.read(lambda unit: unit.jobs.results(first.seq))
    assert (len(lines), len(stages)) == (1, 2)
    assert [each["number"] for each in logbook.told("job.imported")] == [
        first.number,
        second.number,
    ]


def test_it_comes_to_the_same_as_by_hand(logbook):
    logbook.files.import_csv(week_of(logbook))
    by_file = logbook.jobs.find("J2026-0001")
    job = logbook.opened(ask())
    logbook.attempts.add(
        job.id, attempt("scrapped", stage="fold", minutes={"fold": "9.5"})
    )
    logbook.attempts.add(job.id, attempt(minutes={"fold": "8.25"}))
    done = logbook.jobs.complete(
        job.id,
        expected=None,
        money={"sold_price": Decimal(199)},
        coins=(coins(1, "17.2"), coins(1, "17.4")),
    )
    assert done.result == by_file.result


def test_the_same_file_again_changes_nothing(logbook):
    data = week_of(logbook)
    logbook.files.import_csv(data)
    before = state(logbook)
    again = logbook.files.import_csv(data)
    assert (again.changes, again.unchanged) == ((), 2)
    assert state(logbook) == before
    assert len(logbook.told("job.imported")) == 2


def test_a_file_may_come_again_with_more_rows(logbook):
    quote = logbook.accepted(ask(quantity=2))
    rows = [f"{quote.number},good,,8.25,1,17.2,,"]
    logbook.files.import_csv(csv(*rows, header=WEEK))
    rows += [f"{quote.number},good,,8.25,1,17.2,,", f"{quote.number},,,,,,199,"]
    more = logbook.files.import_csv(csv(*rows, header=WEEK))
    assert (more.attempts, more.changes[0].members) == (1, ("coins", "sold_price"))
    job = logbook.jobs.find(quote.number)
    assert len(logbook.log_of(job).attempts) == 2
    assert len(logbook.log_of(job).coins) == 2


def test_what_was_corrected_by_hand_stays_when_the_file_comes_again(logbook):
    quote = logbook.accepted(ask(quantity=2))
    rows = [f"{quote.number},good,,85,1,17.2,,", f"{quote.number},good,,9,1,17.4,,"]
    logbook.files.import_csv(csv(*rows, header=WEEK))
    job = logbook.jobs.find(quote.number)
    logbook.attempts.change(job.id, 1, attempt(minutes={"fold": "8.5"}), expected=None)
    taken = [coins(1, "17.9"), coins(1, "17.4")]
    logbook.jobs.change(job.id, log(taken=taken), expected=None)
    corrected = logbook.log_of(job)
    rows.append(f"{quote.number},scrapped,fold,5,1,17.6,,")
    (more,) = logbook.files.import_csv(csv(*rows, header=WEEK)).changes
    assert (more.added, more.changed, more.members) == (1, 0, ("coins",))
    found = logbook.log_of(job)
    assert found.attempts[:2] == corrected.attempts
    assert found.coins[:2] == corrected.coins


def test_a_look_ahead_writes_nothing_and_says_the_same(logbook):
    data = week_of(logbook)
    before = state(logbook)
    ahead = logbook.files.import_csv(data, dry_run=True)
    assert state(logbook) == before == []
    done = logbook.files.import_csv(data)
    assert ahead.document()["dry_run"] is True
    same = ("rows", "opened", "changed", "completed", "attempts_added", "unchanged")
    assert [ahead.document()[x] for x in same] == [done.document()[x] for x in same]


def test_commas_and_other_headings_are_read_as_they_are_said_to_be(logbook):
    quote = logbook.accepted(ask())
    data = csv(f"{quote.number};good;8,25", header="Auftrag;Ende;Falten (min)")
    named = {"job": "Auftrag", "outcome": "Ende", "minutes:fold": "Falten (min)"}
    form = CsvForm(delimiter=";", decimal=",", columns=named)
    logbook.files.import_csv(data, form)
    [only] = logbook.log_of(logbook.jobs.find(quote.number)).attempts
    assert only.minutes == {"fold": Decimal("8.25")}
    wrong = data.replace(b"8,25", b"8.5")
    assert (2, "Falten (min)") in refused(logbook, wrong, form)


def test_every_row_at_fault_is_named_and_nothing_is_written(logbook):
    good = logbook.accepted(ask())
    logbook.create()  # 2026-0002 is open
    found = refused(
        logbook,
        csv(
            f"{good.number},good,,8.25,,,,",
            f"{good.number},good,,x,,,,",
            f"{good.number},scrapped,braze,8,,,,",
            "2026-0002,good,,8,,,,",
            "nobody,good,,8,,,,",
            header=WEEK,
        ),
    )
    assert found.keys() == {
        (3, "minutes:fold"),
        (4, "stage"),
        (5, "job"),
        (6, "job"),
    }
    assert "is open; a job is opened once" in found[5, "job"]
    assert "no job 'nobody', and no quote" in found[6, "job"]


def test_faults_against_the_plan_are_told_by_their_row(logbook):
    job = logbook.opened(ask())
    logbook.attempts.add(job.id, attempt())
    found = refused(
        logbook,
        csv(
            f"{job.number},good,,,,,-5,,7",
            f"{job.number},good,,,1,-17,,,",
            f"{job.number},good,,,0,17,,,",
            header=WEEK.replace("completed_at", "completed_at,minutes:braze"),
        ),
    )
    assert "cannot have been put to work 4 times" in found[2, "coins"]
    assert found.keys() == {
        (2, "coins"),
        (2, "sold_price"),
        (2, "minutes:braze"),
        (3, "coin_cost"),
        (4, "coins"),
    }


def test_a_named_attempt_is_corrected_by_its_name(logbook):
    quote = logbook.accepted(ask())
    header = "job,attempt,outcome,minutes:fold,coins,coin_cost"
    logbook.files.import_csv(csv(f"{quote.number},a,good,8,1,17", header=header))
    told = logbook.files.import_csv(
        csv(f"{quote.number},a,good,9,2,18", header=header)
    ).changes[0]
    assert (told.added, told.changed, told.members) == (0, 1, ("coins",))
    log_now = logbook.log_of(logbook.jobs.find(quote.number))
    assert [x.minutes for x in log_now.attempts] == [{"fold": 9}]
    assert [(x.count, x.unit_cost) for x in log_now.coins] == [(2, 18)]
    twice = csv(f"{quote.number},a,good,9,,", f"{quote.number},a,good,8,,",
                header=header)  # fmt: skip
    assert "row 2 tells of this one already" in refused(logbook, twice)[3, ""]


def test_numbers_that_are_not_there_are_refused(logbook):
    job = logbook.opened(ask())
    header = "job,attempt,outcome,coins,coin_cost"
    rows = f"{job.number},#3,good,,", f"{job.number},#c1,,1,17"
    found = refused(logbook, csv(*rows, header=header))
    assert "no attempt 3" in found[2, ""]
    assert "no coins c1" in found[3, ""]


def test_what_was_worked_out_is_not_changed_by_a_file(logbook):
    data = week_of(logbook)
    logbook.files.import_csv(data)
    more = data + b"2026-0001,good,,8.25,1,17,,\n"
    assert "reopen it first" in refused(logbook, more)[2, "job"]
    later = data.replace(b"2026-12-01", b"2026-11-30")
    assert "reopen it first" in refused(logbook, later)[2, "job"]
    logbook.jobs.reopen(logbook.jobs.find("2026-0001").id, expected=None)
    assert logbook.files.import_csv(more).completed == 1


MOMENTS = {
    "a day before": ("2026-11-30", "2026-11-30T11:00:00+00:00"),
    "today, before noon": ("2026-12-01", "2026-12-01T09:00:00+00:00"),
    "a moment": ("2026-11-29T23:30:00+00:00", "2026-11-29T23:30:00+00:00"),
}


@pytest.mark.parametrize(("cell", "at"), MOMENTS.values(), ids=MOMENTS)
def test_a_day_means_its_noon_in_the_workshop_or_now(logbook, clock, cell, at):
    clock.advance(hours=-3)
    quote = logbook.accepted(ask())
    logbook.files.import_csv(csv(f"{quote.number},{cell}", header="job,completed_at"))
    assert logbook.jobs.find(quote.number).completed_at.isoformat() == at


@pytest.mark.parametrize("cell", ["0001-01-01", "0001-01-01T00:00:00+14:00"])
def test_a_day_of_no_kept_year_is_told_in_its_column(logbook, cell):
    quote = logbook.accepted(ask())
    rows = csv(f"{quote.number},{cell}", header="job,completed_at")
    assert "is not kept" in refused(logbook, rows)[2, "completed_at"]


def test_what_cannot_be_completed_is_told(logbook):
    timed, begun = logbook.opened(ask()), logbook.opened(ask())
    logbook.stopwatch.start(timed.id, "fold")
    logbook.attempts.add(begun.id, attempt("open"))
    early = logbook.opened(ask())
    few = logbook.opened(ask())
    rows = (
        f"{timed.number},2026-12-01,,,",
        f"{begun.number},2026-12-01,,,",
        f"{early.number},2026-12-02,,,",
        f"{few.number},2026-12-01,1,17,good",
        f"{few.number},,,,scrapped",
    )
    header = "job,completed_at,coins,coin_cost,outcome,stage"
    found = refused(logbook, csv(*(f"{row}," for row in rows), header=header))
    assert "stopwatch runs" in found[2, "completed_at"]
    assert "still open" in found[3, "completed_at"]
    assert "still to come" in found[4, "completed_at"]
    assert (6, "stage") in found


def test_a_listings_piece_is_opened_under_the_files_name(logbook):
    stock(logbook)
    header = "job,sku,size,quantity,outcome,completed_at"
    rows = "fair-3,ring-1,10,2,good,2026-12-01", "fair-3,,,,good,"
    logbook.files.import_csv(csv(*rows, header=header))
    job = logbook.jobs.find("fair-3")
    assert (job.sku, job.pieces, job.reference) == ("ring-1", 2, "fair-3")
    assert job.status == "completed"
    found = refused(
        logbook,
        csv(
            "x,ring-1,,,good,",
            "y,gone,10,,good,",
            "z,ring-1,3,,good,",
            f"{'l' * 65},ring-1,10,,good,",
            f"{'l' * 201},ring-1,10,,good,",
            header=header,
        ),
    )
    assert found.keys() == {(row, "job") for row in (2, 3, 4, 5, 6)}
    assert all("use at most 64" in found[row, "job"] for row in (5, 6))


@pytest.mark.parametrize("other", ["ring-2,,", "ring-1,9.5,", "ring-1,,3", ",99,"])
def test_the_work_on_one_ring_is_not_counted_for_another(logbook, other):
    stock(logbook)
    header = "job,sku,size,quantity,outcome"
    first = csv("fair-3,ring-1,10,2,good", header=header)
    logbook.files.import_csv(first)
    found = refused(logbook, csv(f"fair-3,{other},good", header=header))
    assert found.keys() == {(2, "job")}
    same = csv("fair-3,ring-1,10.0,2,good", "fair-3,,,,good", header=header)
    assert logbook.files.import_csv(same).attempts == 1
    quoted = logbook.opened(ask())  # a listing beside it tells nothing of it
    beside = csv(f"{quoted.number},{other},good", header=header)
    assert logbook.files.import_csv(beside).attempts == 1


def test_a_job_is_called_by_one_name(logbook):
    quote = logbook.accepted(ask())
    job = logbook.opened(ask(), reference="K-17")
    fresh = csv(f"{quote.number},good", f"{quote.id},good", header="job,outcome")
    assert "call it the same" in refused(logbook, fresh)[3, "job"]
    known = csv(f"{job.number},good", "K-17,good", header="job,outcome")
    assert "call it the same" in refused(logbook, known)[3, "job"]
    logbook.opened(ask(), reference=job.number)
    both = csv(f"{job.number},good", header="job,outcome")
    assert "could be" in refused(logbook, both)[2, "job"]


def test_a_file_has_an_end(logbook):
    rows = ["x,good"] * (MOST_ROWS + 1)
    found = refused(logbook, csv(*rows, header="job,outcome"))
    assert "10000 rows at a time" in found[MOST_ROWS + 2, ""]


def test_a_job_that_is_changed_meanwhile_is_read_again(logbook, monkeypatch):
    job, hits = logbook.opened(ask()), [1]

    def planned(*arguments):
        plan = file_import.planned(*arguments)
        if hits:
            hits.pop()
            logbook.attempts.add(job.id, attempt())
        return plan

    monkeypatch.setattr("api.services.jobs.files.planned", planned)
    logbook.files.import_csv(csv(f"{job.number},good", header="job,outcome"))
    assert [x.n for x in logbook.log_of(job).attempts] == [1, 2]


def test_who_is_always_late_is_told(logbook, monkeypatch):
    job = logbook.opened(ask())

    def late(*_):
        raise Conflict("changed meanwhile")

    monkeypatch.setattr("api.services.jobs.files.write", late)
    data = csv(f"{job.number},good", header="job,outcome")
    with pytest.raises(Conflict):
        logbook.files.import_csv(data)
    with pytest.raises(Conflict):
        logbook.snapshots.transaction(lambda _: logbook.files.import_csv(data))


def test_an_export_can_be_read_back_and_then_changes_nothing(logbook):
    logbook.files.import_csv(week_of(logbook))
    job = logbook.opened(ask(), ask(DOLLAR), reference="K-17")
    told = (
        attempt(line=1, visits={"fold": 2}, minutes={"punch": "7.5"}, bored_g="0.91"),
        attempt("scrapped", stage="fold", note="=1+1; -x"),
    )
    taken = [coins(2, "9.5", line=1)]
    logbook.jobs.change(job.id, log(*told, taken=taken, fees="3.5"), expected=None)
    before = state(logbook)
    for form in (CsvForm(), CsvForm(delimiter=";", decimal=",")):
        count, text = exported(logbook, form=form)
        again = logbook.files.import_csv(text.encode(), form)
        assert (count, again.unchanged, again.changes) == (3, 3, ())
    assert "'=1+1" in text
    assert state(logbook) == before


def test_an_export_is_of_the_week_that_is_asked_for(logbook):
    logbook.files.import_csv(week_of(logbook))
    logbook.attempts.add(logbook.opened(ask()).id, attempt("open"))
    count, text = exported(logbook, wanted=JobFilter(week="2026-W49"))
    assert count == 1
    header, whole, *rest = text.splitlines()
    assert header.endswith("minutes:fold")
    assert whole.startswith("J2026-0001,")
    assert [row.split(",")[1] for row in rest] == ["#c1", "#c2", "#1", "#2"]
    assert exported(logbook, wanted=JobFilter(week="2026-W01"))[0] == 0
