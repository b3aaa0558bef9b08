"""Whether the monitor lives and is ready, for whoever watches the watcher."""

from fastapi import APIRouter, Response
from fastapi.responses import JSONResponse

from monitor.model import Role
from monitor.web.rendering import Here

router = APIRouter(prefix="/health", tags=["health"])


@router.get("/live")
async def live() -> dict[str, str]:
    """Say that the loop runs."""
    return {"status": "alive"}


@router.get("/ready", responses={503: {"description": "the store or the broker fails"}})
def ready(pages: Here) -> Response:
    """Say whether the store can be written and the broker is connected.

    A stranger is told that and no more: the rest names people, places and folders.
    """
    health = pages.desk.health()
    told: dict[str, object] = {"status": "ready" if health.ready else "not ready"}
    if pages.visitor.may(Role.SEE):
        told |= {
            "broker": health.broker, "store": health.store, "troubles": list(health.troubles),
        }  # fmt: skip
        further = {"mirror": health.mirror, "disk": health.disk, "backup": health.backup}
        told |= {key: each for key, each in further.items() if each}
    return JSONResponse(told, 200 if health.ready else 503)
