"""What may be a passphrase, how it is kept, and whether it is the one.

References:
    [1] NIST SP 800-63B-4 §3.1.1.2: length counts, no rules of composition, common and
        expected ones refused. OWASP ASVS 5.0, 6.2.
    [2] RFC 7914, scrypt; OWASP Password Storage: N = 2^15, r = 8, p = 3.
"""

from __future__ import annotations

import hashlib
import secrets
import threading
import unicodedata
from base64 import b64decode, b64encode
from hmac import compare_digest

from pricing.errors import InvalidInput

LEAST, MOST = 12, 256
"""Length of a passphrase [characters]."""

_N, _R, _P = 2**15, 8, 3
_MEMORY = 128 * _N * _R + 1024 * 1024
_SALT_BYTES, _BYTES = 16, 32
_ENOUGH = 3  # of 4 grades; from here on guessing offline is slow as well
_LONGEST_GRADED = 72
_PATH = ("passphrase",)
_one_at_a_time = threading.Lock()  # each takes 32 MiB


def checked(text: str) -> str:
    """A passphrase that may be set, in one spelling.

    Raises:
        InvalidInput: it is too short or long, holds controls, or is easy to guess.
    """
    plain = unicodedata.normalize("NFC", text)
    if not LEAST <= len(plain) <= MOST:
        raise InvalidInput(
            f"this has {len(plain)} characters; a passphrase has {LEAST} to {MOST}, "
            "such as four or five words that have nothing to do with each other",
            path=_PATH,
        )
    if not plain.isprintable():
        raise InvalidInput("a passphrase is one line of plain text", path=_PATH)
    if _easily_guessed(plain):
        raise InvalidInput(
            "this is easy to guess, being made of common words, names, keys in a row "
            "or repeats; take four or five words that have nothing to do with each "
            "other",
            path=_PATH,
        )
    return plain


def _easily_guessed(plain: str) -> bool:
    from zxcvbn import zxcvbn  # noqa: PLC0415 - loads 30,000 common ones; rarely needed

    grade: int = zxcvbn(plain[:_LONGEST_GRADED], ["fineweight", "silver"])["score"]
    return grade < _ENOUGH


def hashed(plain: str) -> str:
    """What is kept of a passphrase."""
    salt = secrets.token_bytes(_SALT_BYTES)
    return _kept(salt, _scrypt(plain, salt))


def is_the_one(given: str, kept: str) -> bool:
    """Whether a passphrase is the one of which ``kept`` is kept."""
    _, salt, digest = kept.split("$")
    plain = unicodedata.normalize("NFC", given[: 4 * MOST])
    return compare_digest(_scrypt(plain, b64decode(salt)), b64decode(digest))


def _scrypt(plain: str, salt: bytes) -> bytes:
    data = plain.encode("utf-8", "surrogatepass")
    with _one_at_a_time:
        return hashlib.scrypt(
            data, salt=salt, n=_N, r=_R, p=_P, maxmem=_MEMORY, dklen=_BYTES
        )


def _kept(salt: bytes, digest: bytes) -> str:
    return f"scrypt:{_N}:{_R}:{_P}${_text(salt)}${_text(digest)}"


def _text(data: bytes) -> str:
    return b64encode(data).decode()


NOBODYS = _kept(bytes(_SALT_BYTES), bytes(_BYTES))
"""Takes as long to check as any, and is nobody's."""
