"""Going out to machines of others, safely: what feeds and hooks share."""
