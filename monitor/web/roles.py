"""Which role each route needs: one table. A route that is not in it answers nobody.

``None`` is open to everyone who reaches the pages: what tells nothing of the farm, and
links that are a key by themselves.
"""

from collections.abc import Mapping
from functools import cache
from re import Pattern
from typing import Final

from starlette.routing import compile_path

from monitor.model import Role

Route = tuple[str, str]
ROLES: Final[Mapping[Route, Role | None]] = {
    ("GET", "/"): Role.SEE,
    ("GET", "/tonight"): Role.SEE,
    ("GET", "/places/{place_id}"): Role.SEE,
    ("GET", "/places/{place_id}/card"): Role.SEE,
    ("POST", "/places/{place_id}/loading"): Role.HELP,
    ("GET", "/batches"): Role.SEE,
    ("GET", "/batches/{batch_id}"): Role.SEE,
    ("GET", "/record/done/{token}"): Role.HELP,
    ("GET", "/record/{verb}"): Role.HELP,
    ("POST", "/record/{verb}"): Role.HELP,
    ("POST", "/api/entries"): Role.HELP,
    ("GET", "/batches/{batch_id}/report"): Role.SEE,
    ("GET", "/batches/{batch_id}/beside"): Role.SEE,
    ("GET", "/batches/{batch_id}/labels"): Role.SEE,
    ("GET", "/labels"): Role.SEE,
    ("GET", "/year"): Role.SEE,
    ("GET", "/year/{year}"): Role.SEE,
    ("GET", "/alarms"): Role.SEE,
    ("GET", "/alarms/{alarm_id}"): Role.SEE,
    ("POST", "/alarms/{alarm_id}/acknowledge"): Role.HELP,
    ("POST", "/alarms/{alarm_id}/score"): Role.HELP,
    ("POST", "/alarms/{alarm_id}/quiet"): Role.HELP,
    ("POST", "/alarms/{alarm_id}/unquiet"): Role.HELP,
    ("GET", "/sensors"): Role.SEE,
    ("GET", "/sensors/{sensor_id}"): Role.SEE,
    ("POST", "/sensors/{sensor_id}"): Role.CHANGE,
    ("GET", "/sensors/{sensor_id}/ice"): Role.CHANGE,
    ("POST", "/sensors/{sensor_id}/ice"): Role.CHANGE,
    ("GET", "/topics"): Role.CHANGE,
    ("POST", "/topics"): Role.CHANGE,
    ("GET", "/settings"): Role.CHANGE,
    ("POST", "/settings/test"): Role.CHANGE,
    ("GET", "/settings/new-place"): Role.CHANGE,
    ("POST", "/settings/new-place"): Role.CHANGE,
    ("GET", "/settings/places/{place_id}"): Role.CHANGE,
    ("POST", "/settings/places/{place_id}"): Role.CHANGE,
    ("GET", "/settings/new-person"): Role.CHANGE,
    ("POST", "/settings/new-person"): Role.CHANGE,
    ("GET", "/settings/people/{person_id}"): Role.CHANGE,
    ("POST", "/settings/people/{person_id}"): Role.CHANGE,
    ("GET", "/settings/times"): Role.CHANGE,
    ("POST", "/settings/times"): Role.CHANGE,
    ("GET", "/settings/duty"): Role.CHANGE,
    ("POST", "/settings/duty"): Role.CHANGE,
    ("GET", "/settings/crops/{crop_id}/{stage_id}"): Role.CHANGE,
    ("POST", "/settings/crops/{crop_id}/{stage_id}"): Role.CHANGE,
    ("GET", "/help"): Role.SEE,
    ("GET", "/help/sensors"): Role.SEE,
    ("GET", "/live"): Role.SEE,
    ("GET", "/account"): Role.SEE,
    ("POST", "/account/language"): Role.SEE,
    ("POST", "/account/password"): Role.SEE,
    ("POST", "/account/out"): Role.SEE,
    ("POST", "/sign-out"): Role.SEE,
    ("GET", "/sign-in"): None,
    ("POST", "/sign-in"): None,
    ("GET", "/a/{token}"): None,
    ("POST", "/a/{token}"): None,
    ("GET", "/authority.crt"): None,
    ("GET", "/sw.js"): None,
    ("GET", "/static/{path:path}"): None,
    ("GET", "/vendor/{path:path}"): None,
    ("GET", "/health/live"): None,
    ("GET", "/health/ready"): None,
    ("GET", "/metrics"): Role.SEE,
    ("GET", "/api/"): Role.SEE,
    ("GET", "/api/openapi.json"): Role.SEE,
    ("GET", "/api/places"): Role.SEE,
    ("GET", "/api/sensors"): Role.SEE,
    ("GET", "/api/batches"): Role.SEE,
    ("GET", "/api/batches/{batch_id}"): Role.SEE,
    ("GET", "/api/alarms"): Role.SEE,
    ("POST", "/api/alarms/{alarm_id}/acknowledge"): Role.HELP,
    ("GET", "/api/places/{place_id}/loading"): Role.SEE,
    ("POST", "/api/places/{place_id}/loading"): Role.HELP,
    ("POST", "/api/alarms/{alarm_id}/quiet"): Role.HELP,
    ("POST", "/api/alarms/{alarm_id}/unquiet"): Role.HELP,
    ("GET", "/api/tonight"): Role.SEE,
    ("GET", "/api/series"): Role.SEE,
}


@cache
def _patterns() -> tuple[tuple[str, Pattern[str], Route], ...]:
    return tuple((method, compile_path(path)[0], (method, path)) for method, path in ROLES)


def declared(method: str, path: str) -> Route | None:
    """Return the route of the table that a request asks for, or None."""
    asked = "GET" if method == "HEAD" else method
    found = (route for each, shape, route in _patterns() if each == asked and shape.match(path))
    return next(found, None)
