"""`fineweight week`: one line for a mail, tables for people, files for programs."""

from __future__ import annotations

import json
from datetime import UTC, datetime, timedelta

import pytest

from api.app import compose
from api.cli.exit_codes import ExitCode
from api.services.quotes.terms import LineAsk, QuoteTerms
from api.settings import Settings
from pricing.ring_size import ring_size
from pricing.wish import Wish
from tests.contract.completed_jobs import MONDAY, job, lay, line, stage
from tests.http.workshop import BOOK, SPOT

DAY = timedelta(days=1)
BACKWARDS = ["--from", "2026-11-22", "--to", "2026-11-21"]


@pytest.fixture
def services(tmp_path, clock):
    """A workshop in Vienna, on the Saturday of week 48."""
    clock.time = datetime(2026, 11, 28, 12, tzinfo=UTC)
    composed = compose(Settings(database=str(tmp_path / "bench.sqlite3")), clock=clock)
    composed.price_books.replace(BOOK, expected=None)
    composed.spot_prices.enter("XAG", SPOT, "EUR")
    yield composed
    composed.close()


@pytest.fixture
def slow_week(services):
    slow = stage("fold", tried=30, minutes=390, planned_minutes=300, difference_sq=400)
    lay(
        services.storage,
        (job(parts={"spoilage": "-9.25"}, title="A ring"), [line()], [slow]),
        (job(MONDAY - DAY, title="Last week's"), [line()], []),
        (job(currency="GBP"), [], []),
    )
    return services


def test_a_quiet_week_ends_with_0_and_one_line(run):
    done = run("week", "--line")
    assert (done.exit_code, done.stdout, done.stderr) == (
        0, "2026-W48: no job was completed\n", "",
    )  # fmt: skip


def test_a_week_that_needs_attention_ends_with_3_and_its_first_line_says_it_all(
    run, slow_week
):
    done = run("week")
    assert (done.exit_code, done.stderr) == (ExitCode.FOUND, "")
    first = done.stdout.splitlines()[0]
    assert first == (
        "2026-W48: 1 job, margin 30.75 EUR, planned 40.00 (-9.25); "
        "Fold over the cone differs from the book"
    )
    line_alone = run("week", "--line")
    assert (line_alone.exit_code, line_alone.stdout) == (ExitCode.FOUND, f"{first}\n")


def test_a_job_under_its_floor_needs_attention_even_where_no_job_is_listed(
    run, services
):
    lay(services.storage, (job(under_floor=True, cause="fees"), [line()], []))
    done = run("week", "--line", "--jobs", "0")
    assert done.stdout.endswith("; 1 job is under the floor\n")
    assert done.exit_code == ExitCode.FOUND
    assert "\n\n1 job is not listed\n\n" in run("week", "--jobs", "0").stdout


def test_people_see_tables(run, slow_week):
    told = run("week").stdout
    rows = {row.split("  ")[0]: row for row in told.splitlines() if row.strip()}
    assert rows["margin"].split()[1:] == ["40.00", "30.75", "-9.25"]
    assert rows["spoilage"].split()[1:] == ["-9.25"]
    assert rows["minutes"].split()[1:] == ["50.0", "60.0", "+10.0"]
    assert rows["What that does to prices: fineweight week proposals 2026-W48"]
    assert "minutes differ" in rows
    assert "An hour at the bench earned 62.75." in told
    assert "Nothing is promised that is not made yet." in told
    assert rows["Centre and punch"].endswith(
        "scrap too few to say, redo too few to say, minutes too few to say"
    )
    assert "minutes differs" in rows["Fold over the cone"]
    assert "Jobs left out, in other currencies: 1" in told
    assert "stages.fold.minutes" in rows
    assert {"2026-W47", "2026-W48"} <= rows.keys()


def test_a_week_without_a_job_has_stages_and_promises_and_no_more(run, services):
    ask = LineAsk(coin="at_50s_1959_1973", wish=Wish(size=ring_size("us", "10")))
    services.quotes.create([ask], QuoteTerms())
    done = run("week")
    assert (done.exit_code, done.stderr) == (0, "")
    assert done.stdout.startswith("2026-W48: no job was completed\n\nStages, judged by")
    assert "promised  1 quote, 0 accepted" in done.stdout
    assert "planned margin" not in done.stdout
    assert "The bench proposes" not in done.stdout


def test_a_quiet_week_says_nothing_of_attention_and_of_proposals(run, services):
    done_well = stage("fold", tried=20, minutes=200, planned_minutes=200)
    lay(services.storage, (job(), [line()], [done_well]), (job(), [line()], []))
    done = run("week", "--jobs", "1")
    assert done.exit_code == 0
    told = done.stdout
    assert told.splitlines()[0].endswith("planned 80.00 (as planned)")
    assert "attention" not in told
    assert "as the book says" in told
    assert "and 1 more that lost less" in told


def test_proposals_without_a_ring_to_try_them_on_are_shown_without_prices(
    run, services
):
    slow = stage("fold", tried=30, minutes=390, planned_minutes=300, difference_sq=400)
    lay(services.storage, (job(), [line("gone"), line("", place=1)], [slow]))
    told = run("week", "proposals").stdout
    assert "stages.fold.minutes" in told
    assert "All of them together" not in told


def test_programs_get_what_the_api_says(run, slow_week):
    done = run("week", "2026-W48", "--json")
    told = json.loads(done.stdout)
    assert (done.exit_code, told["week"], told["jobs"]) == (3, "2026-W48", 1)
    assert told["realised"]["margin"] == "30.75"
    headline = json.loads(run("week", "--line", "--json").stdout)["headline"]
    assert headline == told["headline"]


def test_a_file_for_a_spreadsheet_can_be_printed(run, slow_week):
    done = run("week", "--csv")
    rows = done.stdout_bytes.decode().split("\r\n")
    assert rows[0].startswith("rows_of,key,")
    assert [row for row in rows if row.startswith("job,")] != []


@pytest.mark.parametrize(
    ("given", "named"),
    [
        (["2026-W47"], "2026-W47"),
        (["--last"], "2026-W47"),
        (["show", "--last"], "2026-W47"),
        (["--from", "2026-11-22", "--to", "2026-11-22"], "2026-11-22 to 2026-11-22"),
    ],
)
def test_another_week_or_any_days_can_be_asked_for(run, slow_week, given, named):
    done = run("week", *given, "--line")
    assert done.stdout.startswith(f"{named}: 1 job, margin 40.00 EUR")


@pytest.mark.parametrize(
    ("hour", "week"),
    [(22, "2026-W48"), (23, "2026-W49")],  # then it is Monday in Vienna
)
def test_this_week_is_the_workshops_not_the_machines(run, services, clock, hour, week):
    clock.time = datetime(2026, 11, 29, hour, tzinfo=UTC)
    done = run("week", "--line", env={"TZ": "America/Los_Angeles"})
    assert done.stdout.startswith(f"{week}: ")


@pytest.mark.parametrize(
    ("given", "code", "said"),
    [
        (["2026-W99"], 1, "2026 has no week 99"),
        (["last week"], 1, "write it like 2026-W48"),
        (["2026-W48", "--last"], 2, "either a week or --last"),
        (["--from", "2026-11-22"], 2, "both --from and --to"),
        (
            ["2026-W48", "--from", "2026-11-22", "--to", "2026-11-23"],
            2,
            "either a week",
        ),
        (BACKWARDS, 1, "give the first day first"),
        (["accept"], 2, "or give --all"),
        (["accept", "--all", "stages.fold.minutes"], 2, "or give --all"),
        (["accept", "stages.polish.scrap"], 1, "is not proposed"),
    ],
)
def test_what_cannot_be_meant_is_refused_with_what_to_do(
    run, services, given, code, said
):
    done = run("week", *given)
    assert done.exit_code == code
    assert said in done.stderr


def test_proposals_are_shown_with_what_they_do_and_accepted_by_path(run, slow_week):
    shown = run("week", "proposals")
    assert (shown.exit_code, shown.stderr) == (0, "")
    assert "stages.fold.minutes" in shown.stdout
    assert "US 10" in shown.stdout
    done = run("week", "accept", "stages.fold.minutes")
    assert done.stdout == "Price book version 2 has stages.fold.minutes.\n"
    assert run("week", "--line").exit_code == 0
    again = run("week", "accept", "stages.fold.minutes")
    assert (again.exit_code, "is not proposed" in again.stderr) == (1, True)


def test_all_that_is_proposed_can_be_accepted_for_another_week(run, slow_week, clock):
    clock.advance(days=7)
    told = json.loads(run("week", "proposals", "--last", "--json").stdout)
    paths = [each["path"] for each in told["proposals"]]
    done = json.loads(run("week", "accept", "--all", "--last", "--json").stdout)
    assert [each["path"] for each in done["proposals"]] == paths
    assert done["book_version"] == 2


def test_the_commands_that_are_shown_accept_what_is_shown(run, slow_week, clock):
    clock.advance(days=14)
    shown = run("week", "proposals", "2026-W48", "--window-weeks", "1").stdout
    command = shown.splitlines()[-1].partition("fineweight ")[2]
    assert command == "week accept --week 2026-W48 --window-weeks 1 --all"
    done = run(*command.split())
    assert done.stdout == "Price book version 2 has stages.fold.minutes.\n"


def test_nothing_proposed_says_what_to_do(run, services):
    done = run("week", "proposals")
    assert done.stdout == "2026-W48: nothing is proposed\n"
    assert "log some attempts" in done.stderr
    done = run("week", "accept", "--all")
    assert done.stderr == "Error: paths: nothing is proposed for 2026-W48\n"


def test_help_tells_of_the_week_and_of_its_commands(run, services):
    for asked in ("--help", "-h"):
        told = run("week", asked).stdout
        assert "fineweight week --last --line" in told
        assert {"accept", "proposals", "show"} <= set(told.split())
