from __future__ import annotations

import pytest

from api.services import passphrase
from pricing.errors import InvalidInput

GOOD = "fold forge bore 71 bands"


@pytest.mark.parametrize(
    "text", [GOOD, "x" * 5 + "ümlaut für Ringe", "q7 bellows anvil " * 15]
)
def test_what_is_long_and_not_common_may_be_one(text):
    assert passphrase.checked(text)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("a b c d e f", "11 characters"),
        ("ab" * 129, "258 characters"),
        ("fold forge\nbore 71 bands", "one line"),
        ("password1234", "easy to guess"),
        ("123456789012", "easy to guess"),
        ("qwertyuiop12", "easy to guess"),
        ("aaaaaaaaaaaaaaaa", "easy to guess"),
        ("fineweightsilver", "easy to guess"),
    ],
)
def test_what_may_not_be_one_is_told_why(text, said):
    with pytest.raises(InvalidInput, match=said) as raised:
        passphrase.checked(text)
    assert raised.value.path == ("passphrase",)
    assert text not in str(raised.value)


def test_only_the_same_is_the_one_however_it_is_spelled():
    kept = passphrase.hashed(passphrase.checked("schöne Ringe aus Münzen"))
    assert passphrase.is_the_one("scho\u0308ne Ringe aus Mu\u0308nzen", kept)
    assert not passphrase.is_the_one("schone Ringe aus Munzen", kept)
    assert not passphrase.is_the_one("", kept)
    assert not passphrase.is_the_one("\ud800", kept)


def test_the_same_is_kept_in_another_way_each_time():
    assert passphrase.hashed(GOOD) != passphrase.hashed(GOOD)


def test_nobodys_is_no_ones():
    assert not passphrase.is_the_one("", passphrase.NOBODYS)


def test_it_takes_as_much_work_as_is_advised():
    assert passphrase.hashed(GOOD).startswith("scrypt:32768:8:3$")
