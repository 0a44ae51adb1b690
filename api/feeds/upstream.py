"""Beneath the cache: the feed itself, asked again where that may help, and judged."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any

import requests
import tenacity

from api.outbound.deadline import Deadline, Limits
from api.outbound.safe_http import Reach, SafeAdapter
from api.outbound.trouble import TryAgain
from api.ports.feed_protocols import Check
from api.ports.feeds import FeedFailed

_PAGE = re.compile(rb"\s*(?:<!doctype\s+html|<html)", re.IGNORECASE)


def judge(body: bytes, content_type: str, check: Check | None) -> None:
    """Raise FeedFailed for a body that is not worth keeping."""
    if not body.strip():
        raise FeedFailed("empty", "The feed's answer is empty.")
    if content_type.lower().startswith("text/html") or _PAGE.match(body):
        raise FeedFailed(
            "html_page",
            "The feed answered with a web page instead of data. It may be under "
            "maintenance, or the URL is that of a page for people.",
        )
    if check is not None:
        check(body, content_type)


class Upstream(SafeAdapter):
    """Asks the feed itself within one deadline, for one fetch.

    Args:
        reach: where it may go.
        limits: of the fetch.
        sleep: pauses between tries [s].
        check: refuses a body that holds nothing of use.
    """

    def __init__(
        self,
        reach: Reach,
        limits: Limits,
        *,
        sleep: Callable[[float], None],
        check: Check | None = None,
    ) -> None:
        self._until = Deadline(limits.total_s)
        super().__init__(reach, limits=limits, deadline=self._until)
        self._failure: Exception | None = None
        self._sleep = sleep
        self._check = check

    def send(  # type: ignore[override]
        self, request: requests.PreparedRequest, **settings: Any
    ) -> requests.Response:
        """The feed's answer, tried for and judged.

        Raises:
            FeedFailed: there is none, or none of use.
        """
        try:
            return self._tries()(self._once, request, **settings)
        except Exception as error:
            self._failure = error
            raise

    def passed_over(self) -> FeedFailed | None:
        """What went wrong though there is an answer: an older one serves instead.

        A fault that is not the feed's is raised, as the cache would hide it.
        """
        if self._failure is None or isinstance(self._failure, FeedFailed):
            return self._failure
        raise self._failure

    def _once(
        self, request: requests.PreparedRequest, **settings: Any
    ) -> requests.Response:
        answer = super().send(request, **settings)
        if answer.status_code == requests.codes.ok:
            kind = answer.headers.get("Content-Type", "")
            judge(answer.content, kind, self._check)
        return answer

    def _tries(self) -> tenacity.Retrying:
        return tenacity.Retrying(
            retry=tenacity.retry_if_exception_type(TryAgain),
            wait=self._pause,
            stop=self._enough,
            sleep=self._sleep,
            reraise=True,
        )

    def _pause(self, state: tenacity.RetryCallState) -> float:
        """Twice as long each time, some more by chance, and what the feed asks for."""
        first = self.limits.pause_s
        usual = tenacity.wait_exponential_jitter(multiplier=first, jitter=first)(state)
        error = state.outcome.exception() if state.outcome else None
        asked = getattr(error, "retry_after_s", None) or 0
        return max(usual, asked)

    def _enough(self, state: tenacity.RetryCallState) -> bool:
        """Whether no try is left, or none that could begin before the deadline."""
        none_left = state.attempt_number >= self.limits.tries
        return none_left or state.upcoming_sleep >= self._until.left_s
