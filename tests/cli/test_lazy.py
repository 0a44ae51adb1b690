"""The same in this process: what the group of commands does itself."""

from __future__ import annotations

from importlib.metadata import PackageNotFoundError

import click
import pytest
from click.shell_completion import ShellComplete

from api.cli import COMMANDS, main
from api.cli.lazy import program_version
from api.cli.serve import _stop


def test_help_lists_every_command_and_exit_code(run):
    text = run("--help").stdout
    for name, (_, line) in COMMANDS.items():
        assert name in text
        assert line.split()[0] in text
    assert "130 interrupted" in text


def test_the_version_is_told(run):
    assert run("--version").stdout == f"fineweight {program_version()}\n"


@pytest.mark.parametrize("missing", [True, False])
def test_a_program_that_is_not_installed_says_so(monkeypatch, missing):
    def version(_):
        if missing:
            raise PackageNotFoundError
        return "1.2"

    monkeypatch.setattr("api.cli.lazy.version", version)
    assert program_version() == ("(not installed)" if missing else "1.2")


def test_an_unknown_command_is_a_usage_error(run):
    assert run("weigh").exit_code == 2


def test_names_and_options_are_completed():
    def offered(incomplete):
        completion = ShellComplete(main, {}, "fineweight", "_FINEWEIGHT_COMPLETE")
        return [each.value for each in completion.get_completions([], incomplete)]

    assert offered("co") == ["coins"]
    assert offered("") == list(COMMANDS)
    assert "--version" in offered("--")


def test_a_usage_error_inside_a_command_passes_through(run):
    assert run("coins", "show").exit_code == 2
    with pytest.raises(click.UsageError):
        main(["coins", "show"], standalone_mode=False)


def test_being_told_to_stop_ends_the_server_in_order():
    with pytest.raises(SystemExit) as stopped:
        _stop()
    assert stopped.value.code == 0
