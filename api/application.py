"""The bare Flask application, configured; nothing is routed yet."""

from __future__ import annotations

import logging
from collections.abc import Callable
from typing import Any

from flask import Flask
from werkzeug.middleware.proxy_fix import ProxyFix

from api.json_body import MOST_BYTES
from api.settings import Settings

_LOG = logging.getLogger("api.app")


def application(settings: Settings) -> Flask:
    """An application that knows its limits, its hosts and the proxies before it."""
    app = _Application("api", static_folder=None, template_folder="web/templates")
    _configure(app, settings)
    _tell_reach(settings)
    return app


def _configure(app: Flask, settings: Settings) -> None:
    app.config.update(
        MAX_CONTENT_LENGTH=MOST_BYTES,
        MAX_FORM_MEMORY_SIZE=MOST_BYTES,
        MAX_FORM_PARTS=100,
        TRUSTED_HOSTS=list(settings.hosts) or None,
    )
    app.jinja_options = {"trim_blocks": True, "lstrip_blocks": True}
    # A redirect would turn a POST into a GET, so odd addresses are just unknown.
    app.url_map.merge_slashes = False
    app.url_map.redirect_defaults = False
    hops = settings.proxy_hops
    if hops:
        app.wsgi_app = ProxyFix(  # type: ignore[method-assign]
            app.wsgi_app, x_for=hops, x_proto=hops, x_host=hops
        )


def _tell_reach(settings: Settings) -> None:
    """Log what may be reached beyond the usual, so that nobody is surprised."""
    if settings.feed_networks:
        named = ", ".join(map(str, settings.feed_networks))
        _LOG.warning("Feeds may lie in these private networks: %s", named)
    if settings.feed_http:
        _LOG.warning("Feeds may be asked without encryption.")
    if settings.plain_http:
        _LOG.warning("The pages of the bench may be seen without encryption.")
    if settings.hook_networks:
        named = ", ".join(map(str, settings.hook_networks))
        _LOG.warning("Hooks may lie in these private networks: %s", named)
    if settings.hook_http:
        _LOG.warning("Hooks may be told without encryption.")


class _Application(Flask):
    def ensure_sync(self, func: Callable[..., Any]) -> Callable[..., Any]:
        """The function itself: none here is a coroutine, so nobody need look."""
        return func

    def make_default_options_response(self) -> Any:
        """Answer OPTIONS with the methods alone."""
        answer = super().make_default_options_response()
        answer.status_code = 204
        del answer.headers["Content-Type"]
        return answer
