"""In which language a page speaks to whoever asks for it."""

from starlette.datastructures import Headers
from starlette.types import Scope

from monitor.farm import Farm
from monitor.languages import preferred
from monitor.web.visitor import Visitor


def language_of(scope: Scope, visitor: Visitor, farm: Farm) -> str:
    """Return a person's own language, else the browser's, else the farm's."""
    person = farm.people.get(visitor.person)
    own = person.language if person else None
    return own or preferred(Headers(scope=scope).get("accept-language", "")) or farm.language
