"""What a kind of problem is.

References:
    [1] RFC 9457, Problem Details for HTTP APIs: ``type``, ``title``, ``status``,
        ``detail``, ``instance``, and one document per kind, never a mixed one (§3).
"""

from __future__ import annotations

from dataclasses import dataclass

MEDIA_TYPE = "application/problem+json"


@dataclass(frozen=True, slots=True, kw_only=True)
class ProblemType:
    """One kind of problem: what it is called, what it means, what to do.

    ``address`` is its ``type`` where one is registered for everybody.
    """

    slug: str
    status: int
    title: str
    meaning: str
    remedy: str
    address: str = ""

    @property
    def page(self) -> str:
        """Where its page is."""
        return f"/docs/problems/{self.slug}"

    @property
    def uri(self) -> str:
        """The ``type`` of its documents: its page, unless one is registered."""
        return self.address or self.page
