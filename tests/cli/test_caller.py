"""Who a command acts for, whatever the account is called."""

from __future__ import annotations

from types import SimpleNamespace

import pytest

from api.cli import caller
from api.services.actor import Actor, actor

ODD = {
    "a line end": ("ada\nmallory", "ada\\nmallory"),
    "an escape": ("\x1b[2Jada", "\\x1b[2Jada"),
    "turned round": ("\u202eada", "\\u202eada"),
    "no text at all": ("\udcffada", "\\udcffada"),
    "a line separator": ("ada\u2028", "ada\\u2028"),
}


@pytest.fixture
def account(monkeypatch):
    """Sets what the system's list of accounts says of the present user."""

    def set_up(find):
        accounts = SimpleNamespace(getpwuid=find)
        monkeypatch.setattr(caller, "import_module", lambda _: accounts)

    return set_up


def named(name):
    return lambda _: SimpleNamespace(pw_name=name)


def test_the_account_acts_and_not_what_the_environment_says(account, monkeypatch):
    account(named("ada"))
    monkeypatch.setenv("LOGNAME", "boss")
    monkeypatch.setenv("USER", "boss")
    with caller.acting_here():
        assert actor() == Actor(by="ada", via="command line")
    assert actor() == Actor()


@pytest.mark.parametrize(("name", "kept"), ODD.values(), ids=ODD)
def test_an_odd_name_is_kept_on_one_line(account, name, kept):
    account(named(name))
    assert caller.user_name() == kept
    assert kept.encode().decode() == kept


def test_an_endless_name_is_cut(account):
    account(named("a" * 1000))
    assert caller.user_name() == "a" * caller.LONGEST_NAME


def test_a_user_without_an_account_goes_by_the_number(account, monkeypatch):
    account({}.__getitem__)
    monkeypatch.setattr(caller.os, "getuid", lambda: 4711)
    assert caller.user_name() == "user 4711"


def test_a_system_without_accounts_of_that_kind_is_asked_its_way(monkeypatch):
    def missing(name):
        raise ImportError(name)

    monkeypatch.setattr(caller, "import_module", missing)
    monkeypatch.setattr(caller.getpass, "getuser", lambda: "ada")
    assert caller.user_name() == "ada"
