"""Whether the monitor lives and is ready, for whoever watches the watcher."""

from fastapi import APIRouter, Response
from fastapi.responses import JSONResponse

from monitor.web.rendering import Here

router = APIRouter(prefix="/health", tags=["health"])


@router.get("/live")
async def live() -> dict[str, str]:
    """Say that the loop runs."""
    return {"status": "alive"}


@router.get("/ready", responses={503: {"description": "the store or the broker fails"}})
def ready(pages: Here) -> Response:
    """Say whether the store can be written and the broker is connected."""
    health = pages.desk.health()
    told = {
        "status": "ready" if health.ready else "not ready",
        "broker": health.broker,
        "store": health.store,
        "troubles": list(health.troubles),
    }
    if health.mirror:
        told["mirror"] = health.mirror
    if health.disk:
        told["disk"] = health.disk
    if health.backup:
        told["backup"] = health.backup
    return JSONResponse(told, 200 if health.ready else 503)
