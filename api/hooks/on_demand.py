"""The sender, imported when something is sent for the first time."""

from __future__ import annotations

from datetime import datetime
from importlib import import_module
from threading import Lock
from typing import TYPE_CHECKING

from api.outbound.addresses import Network, is_public
from api.outbound.urls import AddressRefused, literal, target_of
from api.ports.hooks import Hook, HookMessage, Sent

if TYPE_CHECKING:
    from api.hooks.sender import HttpSender


class SenderOnDemand:
    """Sends, and judges addresses before anything is sent.

    Args:
        networks: private networks in which endpoints may lie, on any port.
        plain_http: whether endpoints may be reached without encryption.
    """

    def __init__(
        self, *, networks: tuple[Network, ...] = (), plain_http: bool = False
    ) -> None:
        self._networks = networks
        self._plain_http = plain_http
        self._made: HttpSender | None = None
        self._making = Lock()

    def send(self, hook: Hook, message: HookMessage, *, at: datetime) -> Sent:
        """What came of one attempt."""
        return self._sender().send(hook, message, at=at)

    def refusal(self, url: str) -> str:
        """Why a URL cannot be an endpoint, as a code; empty where it can.

        What a name leads to is found out when something is sent, each time anew.
        """
        try:
            target = target_of(url, plain_http=self._plain_http)
        except AddressRefused as error:
            return error.reason
        own = literal(target.host)
        if any(own is None or own in network for network in self._networks):
            return ""
        if own is not None and not is_public(own):
            return "forbidden_address"
        return "" if target.usual_port else "forbidden_port"

    def _sender(self) -> HttpSender:
        with self._making:
            if self._made is None:
                reach = import_module("api.outbound.safe_http").Reach
                sender = import_module("api.hooks.sender").HttpSender
                self._made = sender(
                    reach(networks=self._networks, plain_http=self._plain_http)
                )
            return self._made
