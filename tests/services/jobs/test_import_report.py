"""What an import of a bench log says it has done."""

from __future__ import annotations

from api.services.jobs.import_report import JobChange, LogReport


def change(job, what, **more):
    usual = {"number": None, "row": 2, "completed": False, "added": 0, "changed": 0}
    return JobChange(job=job, change=what, members=(), **usual | more)


def test_a_report_counts_and_names_what_was_opened():
    report = LogReport(
        dry_run=False,
        rows=7,
        unchanged=1,
        changes=(
            change("a", "opened", completed=True, added=3),
            change("b", "changed", number="J2026-0001", added=1, changed=2),
        ),
        ignored=("x",),
    ).numbered({"a": "J2026-0002"})
    told = report.document()
    assert [each["number"] for each in told["changes"]] == ["J2026-0002", "J2026-0001"]
    assert (told["opened"], told["changed"], told["completed"]) == (1, 1, 1)
    assert (told["attempts_added"], told["unchanged"], told["rows"]) == (4, 1, 7)
