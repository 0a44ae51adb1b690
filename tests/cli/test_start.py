"""Starting, help, version and completion in an interpreter of their own."""

from __future__ import annotations

import os
import subprocess
import sys
from importlib import import_module
from importlib.util import find_spec

import click
import pytest

from api.cli import COMMANDS, main
from tests.architecture.source import ROOT

HEAVY = {"numpy", "scipy", "sqlalchemy", "flask", "marshmallow", "waitress", "requests"}
LANDED = [name for name, (at, _) in COMMANDS.items() if find_spec(at.split(":")[0])]


def start(*arguments, **environ):
    return subprocess.run(
        [sys.executable, "-m", "api.cli", *arguments],
        cwd=ROOT, env=os.environ | environ, capture_output=True, text=True, check=False,
    )  # fmt: skip


@pytest.mark.parametrize(
    ("arguments", "environ"),
    [
        (("--version",), {}),
        (("--help",), {}),
        ((), {"_FINEWEIGHT_COMPLETE": "bash_complete", "COMP_WORDS": "fineweight co",
              "COMP_CWORD": "1"}),
    ],
    ids=["version", "help", "completion"],
)  # fmt: skip
def test_starting_imports_only_what_is_needed(arguments, environ):
    code = (
        "import sys\n"
        "from api.cli import main\n"
        "try: main(sys.argv[1:], prog_name='fineweight')\n"
        "finally: print('\\nLOADED', *{n.split('.')[0] for n in sys.modules})\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", code, *arguments],
        cwd=ROOT, env=os.environ | environ, capture_output=True, text=True, check=True,
    )  # fmt: skip
    loaded = set(done.stdout.rpartition("LOADED")[2].split())
    assert "click" in loaded
    assert not loaded & {*HEAVY, "pricing"}


def test_the_program_says_its_name_and_version():
    done = start("--version")
    assert done.returncode == 0
    assert done.stdout.startswith("fineweight ")


def test_an_unknown_command_is_a_usage_error_on_stderr():
    done = start("weigh")
    assert (done.returncode, done.stdout) == (2, "")
    assert "weigh" in done.stderr


@pytest.mark.parametrize("shell", ["bash", "zsh", "fish"])
def test_the_completion_script_of_each_shell_is_printed(shell):
    done = start(_FINEWEIGHT_COMPLETE=f"{shell}_source")
    # Click asks the bash that is there for its version, and warns of an old one.
    assert done.returncode == 0
    assert "_FINEWEIGHT_COMPLETE" in done.stdout


@pytest.mark.parametrize(
    ("words", "offered"),
    [("fineweight co", ["coins"]), ("fineweight coins s", ["show"])],
)
def test_bash_completes_commands(words, offered):
    done = start(
        _FINEWEIGHT_COMPLETE="bash_complete",
        COMP_WORDS=words,
        COMP_CWORD=str(words.count(" ")),
    )
    assert [line.partition(",")[2] for line in done.stdout.split()] == offered


def test_zsh_completes_with_a_word_about_each():
    done = start(
        _FINEWEIGHT_COMPLETE="zsh_complete", COMP_WORDS="fineweight ser", COMP_CWORD="1"
    )
    assert done.stdout.splitlines() == ["plain", "serve", COMMANDS["serve"][1]]


@pytest.mark.parametrize("name", LANDED)
def test_the_line_in_the_overview_begins_as_the_commands_own(name):
    module, _, attribute = COMMANDS[name][0].partition(":")
    command = getattr(import_module(module), attribute)
    assert command.help.split()[:2] == COMMANDS[name][1].split()[:2]


def leaves(command, path):
    """The commands themselves, below all groups."""
    if not isinstance(command, click.Group):
        yield " ".join(path), command
        return
    with click.Context(command) as ctx:
        for name in command.list_commands(ctx):
            yield from leaves(command.get_command(ctx, name), (*path, name))


@pytest.mark.parametrize("name", LANDED)
def test_every_command_and_option_has_help(name):
    silent = [
        f"{path} {each.opts if each else ''}"
        for path, command in leaves(
            main.get_command(click.Context(main), name), (name,)
        )
        for each in (None, *command.params)
        if not (command.help if each is None else told(each))
    ]
    assert not silent


def told(parameter):
    """Whether help says what it is for; an argument is told of in the text."""
    return isinstance(parameter, click.Argument) or (
        parameter.help or parameter.show_default
    )


@pytest.mark.parametrize("name", LANDED)
def test_every_command_offers_json(name):
    group = main.get_command(click.Context(main), name)
    for _, command in leaves(group, (name,)):
        assert "--json" in [opt for each in command.params for opt in each.opts]


def test_being_interrupted_ends_with_130(run, services):
    def interrupted():
        raise KeyboardInterrupt

    services.coins.list = interrupted
    done = run("coins", "list")
    assert done.exit_code == 130
    assert done.stderr.strip() == "Stopped."


def test_a_fault_of_our_own_is_not_dressed_up(run, services):
    services.coins = None
    done = run("coins", "list")
    assert isinstance(done.exception, AttributeError)
