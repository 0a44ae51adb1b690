"""`fineweight log`: jobs opened, worked on, completed, to and from files."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from api.services.jobs.terms import JobAsk
from api.services.quotes.terms import QuoteTerms
from tests.cli.quoting import workshop
from tests.services.jobs.test_opening import stock
from tests.services.promising import ask


@pytest.fixture
def services(tmp_path, clock):
    with workshop(tmp_path / "workshop.sqlite3", clock) as composed:
        yield composed


@pytest.fixture
def quote(services):
    """The number of an accepted quote."""
    made = services.quotes.create([ask()], QuoteTerms())
    return services.quotes.accept(made.id, expected=None).number


@pytest.fixture
def job(services, quote):
    """The number of a job of that quote."""
    return services.bench.jobs.open(JobAsk(quote=quote)).number


def told(done):
    assert (done.exit_code, done.stderr) == (0, "")
    return done.stdout


def test_a_job_is_opened_for_a_quote_or_a_listing(run, services, quote):
    opened = told(run("log", "open", quote, "--reference", "K-17"))
    assert "planned margin" in opened
    assert f"for {quote} opened" in " ".join(opened.split())
    again = run("log", "open", quote)
    assert (again.exit_code, "J2026-0001 already" in again.stderr) == (5, True)
    stock(services)
    document = json.loads(
        told(run("log", "open", "--sku", "ring-1", "--size", "10", "--json"))
    )
    assert (document["sku"], document["number"]) == ("ring-1", "J2026-0002")
    for words in ((), (quote, "--sku", "ring-1")):
        assert run("log", "open", *words).exit_code == 2
    assert "which size" in run("log", "open", "--sku", "ring-1").stderr


def test_attempts_are_written_down_and_corrected(run, job):
    line = told(
        run("log", "attempt", job, "scrapped", "--stage", "fold", "--minutes",
            "fold=8.25", "--visits", "fold=2", "--slug", "3.61", "--note", "split")
    )  # fmt: skip
    assert "scrapped at fold" in line
    assert "fold 8.25" in line
    again = run("log", "attempt", job, "good", "--number", "1", "--json")
    assert json.loads(told(again))["outcome"] == "good"
    assert run("log", "attempt", job, "good", "--number", "7").exit_code == 1
    wrong = run("log", "attempt", job, "good", "--minutes", "braze=8")
    assert (wrong.exit_code, "no stage 'braze'" in wrong.stderr) == (1, True)


def test_what_a_correction_does_not_name_stays(run, job):
    run("log", "attempt", job, "open", "--minutes", "fold=8.25", "--visits", "fold=2",
        "--note", "thin", "--slug", "3.5")  # fmt: skip
    done = json.loads(
        told(
            run("log", "attempt", job, "good", "--number", "1", "--slug", "3.61",
                "--minutes", "punch=6", "--json")
        )
    )  # fmt: skip
    assert (done["outcome"], done["slug_g"], done["note"]) == ("good", "3.61", "thin")
    assert done["minutes"] == {"fold": "8.25", "punch": "6"}
    assert done["visits"] == {"fold": 2}
    fails = ("log", "attempt", job, "scrapped", "--number", "1")
    told(run(*fails, "--stage", "fold"))
    assert "scrapped at fold" in told(run(*fails, "--slug", "3.62"))


@pytest.mark.parametrize(
    "words",
    [
        ("--minutes", "fold"),
        ("--minutes", "fold=x"),
        ("--minutes", "=8"),
        ("--visits", "fold=1.5"),
        ("--slug", "heavy"),
        ("--line", "0"),
    ],
)
def test_what_cannot_be_read_is_a_fault_of_usage(run, job, words):
    assert run("log", "attempt", job, "good", *words).exit_code == 2


def test_a_stopwatch_is_started_stopped_and_thrown_away(run, job, clock):
    assert "runs at fold" in told(run("log", "start", job, "fold"))
    assert run("log", "start", job, "fold").exit_code == 5
    clock.advance(minutes=8)
    assert "fold 8.00" in told(run("log", "stop", job))
    running = json.loads(told(run("log", "start", job, "fold", "--json")))
    assert (running["stage"], running["forgotten"]) == ("fold", False)
    done = run("log", "discard", job)
    assert (done.exit_code, done.stdout) == (0, "")
    assert "thrown away" in done.stderr
    run("log", "start", job, "fold")
    assert json.loads(told(run("log", "discard", job, "--json")))["discarded"]
    assert run("log", "stop", job).exit_code == 1


def test_a_completed_job_says_what_made_the_difference(run, job):
    run("log", "attempt", job, "scrapped", "--stage", "fold")
    run("log", "attempt", job, "good")
    done = told(
        run("log", "complete", job, "--sold", "250", "--fees", "3.86", "--coins",
            "1@9.50", "--coins", "1@9.70@1", "--at", "2026-11-27")
    )  # fmt: skip
    assert "2026-W48" in done
    for part in ("planned margin", "price", "spoilage", "price of the coins"):
        assert part in done
    assert run("log", "complete", job).exit_code == 5
    shown = json.loads(told(run("log", "show", job, "--json")))
    assert [each["unit_cost"] for each in shown["coins"]] == ["9.50", "9.70"]
    assert shown["completed_at"] == "2026-11-27T11:00:00.000Z"
    stale = run("log", "reopen", job, "--if-version", "1")
    assert stale.exit_code == 5
    assert "completed" not in told(run("log", "reopen", job))


def test_a_job_under_its_floor_says_what_did_it(run, job):
    done = told(run("log", "complete", job, "--sold", "20", "--at",
                    "2026-12-01T09:00:00+01:00"))  # fmt: skip
    assert "Under the floor: price." in done


@pytest.mark.parametrize(
    "words",
    [
        ("--coins", "two@9"),
        ("--coins", "2"),
        ("--coins", "2@9@0"),
        ("--at", "yesterday"),
        ("--at", "2026-11-27T10:00:00"),
        ("--sold", "dear"),
    ],
)
def test_a_completion_that_cannot_be_read_is_a_fault_of_usage(run, job, words):
    assert run("log", "complete", job, *words).exit_code == 2


def test_jobs_are_listed(run, services, job):
    assert job in told(run("log", "list", "--status", "open"))
    done = run("log", "list", "--week", "2026-W48")
    assert (done.exit_code, done.stdout.strip()) == (0, "")
    assert "fineweight log open" in done.stderr
    assert run("log", "list", "--week", "48").exit_code == 1
    another = services.quotes.create([ask()], QuoteTerms())
    services.quotes.accept(another.id, expected=None)
    services.bench.jobs.open(JobAsk(quote=another.id))
    cut = run("log", "list", "--limit", "1", "--json")
    assert len(json.loads(cut.stdout)["jobs"]) == 1
    assert "older ones" in cut.stderr


def test_one_job_is_shown_by_whatever_it_is_called(run, quote, job):
    run("log", "start", job, "fold")
    shown = told(run("log", "show", quote))
    assert job in shown
    assert "fold since" in shown
    assert run("log", "show", "nobody").exit_code == 1


def test_a_week_goes_in_and_comes_out(run, quote, tmp_path):
    file = tmp_path / "week.csv"
    header = "Auftrag;outcome;stage;Falten;completed_at"
    rows = f"{quote};scrapped;fold;9,5;", f"{quote};good;;8,25;2026-11-27"
    file.write_text("\n".join((header, *rows)), "utf-8")
    words = ("log", "import", str(file), "--delimiter", ";", "--decimal", ",",
             "--map", "job=Auftrag", "--map", "minutes:fold=Falten")  # fmt: skip
    ahead = run(*words, "--dry-run")
    assert "1 job would be opened" in ahead.stderr
    done = run(*words)
    assert done.exit_code == 0
    assert "2 attempts added" in done.stderr
    assert "J2026-0001" in done.stdout
    again = json.loads(run(*words, "--json").stdout)
    assert (again["unchanged"], again["changes"]) == (1, [])
    out = tmp_path / "out.csv"
    written = run("log", "export", str(out), "--week", "2026-W48")
    assert "1 job written" in written.stderr
    assert Path(out).read_text("utf-8").count("J2026-0001") == 3
    assert "#1" in told_file(run("log", "export"))
    assert run("log", "export", "--json").exit_code == 2
    told_json = json.loads(run("log", "export", str(out), "--json").stdout)
    assert told_json["jobs"] == 1


def told_file(done):
    assert done.exit_code == 0
    return done.stdout


def test_a_file_with_faults_names_every_row(run, quote, tmp_path):
    file = tmp_path / "week.csv"
    file.write_text(f"job,outcome\n{quote},lost\nnobody,good\n", "utf-8")
    done = run("log", "import", str(file))
    assert done.exit_code == 1
    assert "row 2, outcome" in done.stderr
    assert "row 3, job" in done.stderr


@pytest.mark.parametrize("pair", ["job", "job=", "colour=x", "minutes:=x"])
def test_a_map_is_of_our_columns(run, services, tmp_path, pair):
    file = tmp_path / "week.csv"
    file.write_text("job\n", "utf-8")
    done = run("log", "import", str(file), "--map", pair)
    assert done.exit_code == 2
    assert "no pair such as minutes:fold=Falten" in done.stderr
