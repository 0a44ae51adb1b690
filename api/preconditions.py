"""Entity tags: which version a caller has read, and which one it changes.

A tag may end in a dot and a digest of what was shown, where one version can be
shown in several ways. A change is about the version, so it is matched without.

References:
    [1] RFC 9110 §8.8.3, entity tags; §13.1.1, If-Match by strong comparison, so
        that a weak tag never matches; §13.1.2, If-None-Match by weak comparison.
    [2] RFC 6585 §3, 428 where a condition is required.
"""

from __future__ import annotations

import hmac
import re

from api.errors import Refused
from api.problems import BAD_REQUEST, PRECONDITION_FAILED, PRECONDITION_REQUIRED

_TAG = r'(?:W/)?"[\x21\x23-\x7e]*"'
_TAGS = re.compile(rf"{_TAG}(?:[ \t]*,[ \t]*{_TAG})*+", re.ASCII)
_EACH = re.compile(_TAG, re.ASCII)
_DIGEST = re.compile(r'\.[0-9a-f]{32}(?="$)', re.ASCII)
_DIGEST_BYTES = 16
_WEAK = "A weak tag (W/) never matches here; send the tag as it is without W/. "


def tag(resource: str, revision: int) -> str:
    """The strong entity tag of one revision of a resource.

    >>> tag("price_book", 3)
    '"price_book-3"'
    """
    return f'"{resource}-{revision}"'


def tag_shown(version: str, shown: bytes, secret: bytes) -> str:
    """The strong entity tag of one way in which a version is shown.

    Args:
        version: its entity tag.
        shown: all that is shown, and nothing else: nobody learns from the tag
            what the answer does not say.
        secret: keys the digest, so that it cannot be worked out elsewhere.

    >>> tag_shown('"quote-3"', b"{}", b"secret")
    '"quote-3.77325902caca812dc259733aacd046b7"'
    """
    digest = hmac.digest(secret, shown, "sha256")[:_DIGEST_BYTES]
    return f'{version[:-1]}.{digest.hex()}"'


def _tags(header: str, name: str) -> list[str]:
    if not _TAGS.fullmatch(header.strip()):
        raise Refused(
            BAD_REQUEST,
            f'{name} has to hold an entity tag in double quotes, such as "coin-3".',
            errors=({"detail": "not a list of entity tags", "header": name},),
        )
    return _EACH.findall(header)


def check_match(header: str | None, *current: str) -> bool:
    """Let a change pass only for the version that is there now.

    Args:
        header: the If-Match header, None if there was none.
        current: the entity tags of what is there now; one of it in each of its
            states, where the same version looks different by the clock.

    Returns:
        Whether it names that version; False for ``*``, whatever there is.

    Raises:
        Refused: 428 without the header, 412 for another version, 400 for
            something that is no entity tag.
    """
    if header is None:
        raise Refused(PRECONDITION_REQUIRED, PRECONDITION_REQUIRED.meaning)
    if header.strip() == "*":
        return False
    named = {_DIGEST.sub("", one) for one in _tags(header, "If-Match")}
    if not set(current) & named:
        weak = {one.removeprefix("W/") for one in named} & set(current)
        hint = _WEAK if weak else ""
        raise Refused(
            PRECONDITION_FAILED,
            f"The current version is {current[0]}. "
            f"{hint or PRECONDITION_FAILED.meaning}".rstrip(),
        )
    return True


def unchanged(header: str | None, current: str) -> bool:
    """Whether the caller's copy, by its If-None-Match header, is the current one."""
    if header is None:
        return False
    if header == current or header.strip() == "*":  # who has one copy sends one tag
        return True
    tags = _tags(header, "If-None-Match")
    return current in [one.removeprefix("W/") for one in tags]
