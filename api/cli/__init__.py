"""The command line. A command's module is imported when that command is called.

Nothing is imported here that the asked-for command does not need, so that help,
version and shell completion answer at once.
"""

from __future__ import annotations

from api.cli.lazy import LazyGroup

COMMANDS = {
    "estimate": ("api.cli.estimate:estimate", "Price a ring from a coin and a size."),
    "quote": (
        "api.cli.quote:quote",
        "Promise prices, and accept, decline or renew them.",
    ),
    "listings": (
        "api.cli.listings:listings",
        "Show, import and export what is in the shop.",
    ),
    "reprice": (
        "api.cli.reprice:reprice",
        "Bring the prices in the shop in line with silver.",
    ),
    "log": (
        "api.cli.log:log",
        "Write down what is really done at the bench.",
    ),
    "week": (
        "api.cli.week:week",
        "Check a week: planned against realised margin, and why.",
    ),
    "spot": ("api.cli.spot:spot", "Enter, fetch and show the price of silver."),
    "feeds": ("api.cli.feeds:feeds", "Set up where prices are fetched from."),
    "book": ("api.cli.book:book", "Load, show and compare the price book."),
    "coins": ("api.cli.coins:coins", "List coin types and their figures."),
    "key": ("api.cli.key:key", "Create access keys for the API."),
    "passphrase": (
        "api.cli.passphrase:passphrase",
        "Set or clear what other machines sign in to the bench with.",
    ),
    "hooks": (
        "api.cli.hooks:hooks",
        "Tell other programs what happens to prices and quotes.",
    ),
    "audit": ("api.cli.audit:audit", "Show who changed what and when."),
    "serve": (
        "api.cli.serve:serve",
        "Serve the API on this machine until interrupted.",
    ),
    "backup": (
        "api.cli.backup:backup",
        "Copy the database to a file and check the copy.",
    ),
    "restore": (
        "api.cli.restore:restore",
        "Put the backup in the place of what is there.",
    ),
    "openapi": (
        "api.cli.openapi:openapi",
        "Write the description of the API (OpenAPI 3.1).",
    ),
    "db": ("api.cli.db:db", "Look after the database."),
}

main = LazyGroup(
    "fineweight",
    lazy=COMMANDS,
    help="Price rings made from silver coins.",
    epilog="""\b
Examples:
  fineweight book load workshop.toml
  fineweight spot set 27.50
  fineweight estimate at_50s_1959_1973 10
\b
The database comes from --database or FINEWEIGHT_DATABASE; else it is one file
in your user data folder.
\b
Exit codes: 0 ok, 1 failed, 2 usage, 3 a check found something,
4 spot price stale or missing, 5 conflict, 130 interrupted.""",
)
