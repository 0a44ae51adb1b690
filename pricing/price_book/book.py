"""The price book itself: one immutable value, looked up by key."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Protocol, TypeVar

from pricing.errors import UnknownKey
from pricing.money import Currency
from pricing.price_book.bench import (
    Calibration,
    CoinBuying,
    Consumable,
    Forming,
    Labour,
    Recovery,
    Stage,
    Tool,
)
from pricing.price_book.selling import AfterSale, Channel, Extra, Policy


class _Keyed(Protocol):
    @property
    def key(self) -> str: ...


_K = TypeVar("_K", bound=_Keyed)


def _find(items: Iterable[_K], key: str, what: str) -> _K:
    known = tuple(items)
    for item in known:
        if item.key == key:
            return item
    allowed = ", ".join(item.key for item in known) or "none yet"
    raise UnknownKey(
        f"the price book has no {what} '{key}'; it has: {allowed}", path=(what,)
    )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PriceBook:
    """A workshop's settings. Compared and hashed by identity: a version is one object.

    Attributes:
        version: number the storage gave this version; 0 when not stored.
    """

    title: str
    currency: Currency
    timezone: str
    labour: Labour
    consumables: tuple[Consumable, ...] = ()
    tools: tuple[Tool, ...] = ()
    stages: tuple[Stage, ...]
    recovery: Recovery = Recovery()
    after_sale: AfterSale = AfterSale()
    coin_buying: CoinBuying = CoinBuying()
    channels: tuple[Channel, ...]
    policies: tuple[Policy, ...]
    extras: tuple[Extra, ...] = ()
    forming: Forming = Forming()
    calibrations: tuple[Calibration, ...] = ()
    version: int = 0

    def consumable(self, key: str) -> Consumable:
        """The consumable of this key. Raises UnknownKey."""
        return _find(self.consumables, key, "consumable")

    def tool(self, key: str) -> Tool:
        """The tool of this key. Raises UnknownKey."""
        return _find(self.tools, key, "tool")

    def channel(self, key: str | None = None) -> Channel:
        """The channel of this key, the book's first by default. Raises UnknownKey."""
        return self.channels[0] if key is None else _find(self.channels, key, "channel")

    def policy(self, key: str | None = None) -> Policy:
        """The policy of this key, the book's first by default. Raises UnknownKey."""
        return self.policies[0] if key is None else _find(self.policies, key, "policy")

    def extra(self, key: str) -> Extra:
        """The extra of this key. Raises UnknownKey."""
        return _find(self.extras, key, "extra")

    def calibration(self, coin_key: str) -> Calibration:
        """The calibration of this coin; all factors one where there is none."""
        for item in self.calibrations:
            if item.coin == coin_key:
                return item
        return Calibration(coin=coin_key)
