"""Probes for whatever starts and watches the service; they name nothing inside.

References:
    [1] Kubernetes documentation, Liveness, Readiness and Startup Probes: liveness
        must not depend on anything outside the process.
"""

from __future__ import annotations

from api.endpoint import Call, Examples, Reply, Routes
from api.errors import Refused
from api.problems import NOT_READY
from api.schemas.health import HealthDocument
from api.security import OPEN

_OK = {"status": "ok"}

routes = Routes("health", title="Health", about="Probes; they need no key.")


@routes.operation(
    "GET",
    "/livez",
    scope=OPEN,
    summary="Whether the program runs",
    answers={200: HealthDocument()},
    examples=Examples(answer=_OK),
)
def read_liveness(_: Call) -> Reply:
    """Answer.

    Nothing is looked at but the program itself; if this fails, start it again.
    """
    return Reply(_OK)


@routes.operation(
    "GET",
    "/readyz",
    scope=OPEN,
    summary="Whether requests can be served",
    answers={200: HealthDocument()},
    problems=(NOT_READY,),
    examples=Examples(answer=_OK),
)
def read_readiness(call: Call) -> Reply:
    """Ask the storage.

    The database answers, has the tables this program knows, and takes writes. A
    spot price that grows old is no reason to be not ready.
    """
    if not call.services.health.ready().ready:
        raise Refused(NOT_READY, NOT_READY.meaning, headers={"Retry-After": "5"})
    return Reply(_OK)
