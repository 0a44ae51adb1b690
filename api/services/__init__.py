"""The use cases. Each is one transaction or one view of what is stored.

Services commit, nothing else does. They know the ports and the pricing, but no
database, web framework or wire format.
"""

from api.services.coins import Coins
from api.services.estimates import Estimates
from api.services.feeds.feeds import Feeds
from api.services.health import Health
from api.services.keys import Keys
from api.services.price_book import PriceBooks
from api.services.quotes.quotes import Quotes
from api.services.snapshot import Snapshot
from api.services.snapshots import Snapshots
from api.services.spot.fetching import Fetching
from api.services.spot.spot_prices import SpotPrices

__all__ = [
    "Coins",
    "Estimates",
    "Feeds",
    "Fetching",
    "Health",
    "Keys",
    "PriceBooks",
    "Quotes",
    "Snapshot",
    "Snapshots",
    "SpotPrices",
]
