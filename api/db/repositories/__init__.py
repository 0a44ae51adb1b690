"""One class a table: statements in, values out; the caller owns the transaction."""

from api.db.repositories.audit import AuditRepository
from api.db.repositories.coins import CoinRepository
from api.db.repositories.feed_fetches import FetchRepository
from api.db.repositories.feeds import FeedRepository
from api.db.repositories.hooks import HookRepository
from api.db.repositories.jobs import JobRepository
from api.db.repositories.keys import KeyRepository
from api.db.repositories.listings import ListingRepository
from api.db.repositories.margin_checks import MarginCheckRepository
from api.db.repositories.price_book import BookRepository
from api.db.repositories.quotes import QuoteRepository
from api.db.repositories.replays import ReplayRepository
from api.db.repositories.repricings import RepricingRepository
from api.db.repositories.revisions import RevisionRepository
from api.db.repositories.secrets import SecretRepository
from api.db.repositories.sessions import SessionRepository, SignInRepository
from api.db.repositories.signing_keys import SigningKeyRepository
from api.db.repositories.spot_prices import SpotRepository

__all__ = [
    "AuditRepository",
    "BookRepository",
    "CoinRepository",
    "FeedRepository",
    "FetchRepository",
    "HookRepository",
    "JobRepository",
    "KeyRepository",
    "ListingRepository",
    "MarginCheckRepository",
    "QuoteRepository",
    "ReplayRepository",
    "RepricingRepository",
    "RevisionRepository",
    "SecretRepository",
    "SessionRepository",
    "SignInRepository",
    "SigningKeyRepository",
    "SpotRepository",
]
