from __future__ import annotations

import pytest

from api.ports import Conflict

GOOD = "fold forge bore 71 bands"


class FakeSessions:
    """Remembers the passphrase it was given."""

    given = None

    def set_passphrase(self, text):
        self.given = text

    def clear_passphrase(self):
        if self.given is None:
            raise Conflict("there is no passphrase; there is nothing to clear")
        self.given = None


@pytest.fixture
def sessions(services):
    services.sessions = FakeSessions()
    return services.sessions


@pytest.mark.parametrize("end", ["", "\n", "\r\n", "\nsecond line\n"])
def test_it_is_the_first_line_of_standard_input_and_never_repeated(run, sessions, end):
    done = run("passphrase", "set", input=GOOD + end)
    assert done.exit_code == 0
    assert sessions.given == GOOD
    assert GOOD not in done.stdout + done.stderr


def test_it_cannot_stand_on_the_command_line(run, sessions):
    assert run("passphrase", "set", GOOD).exit_code == 2
    assert sessions.given is None


def test_it_can_be_cleared_once(run, sessions):
    sessions.set_passphrase(GOOD)
    assert run("passphrase", "clear").exit_code == 0
    assert run("passphrase", "clear").exit_code == 5


def test_at_a_terminal_it_is_asked_for_twice_and_not_shown(run, sessions, monkeypatch):
    monkeypatch.setattr("api.cli.passphrase._at_a_terminal", lambda: True)
    done = run("passphrase", "set", input=f"{GOOD}\n{GOOD}\n")
    assert sessions.given == GOOD
    assert GOOD not in done.stdout
