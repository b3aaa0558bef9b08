"""Makes a page from a template: what every page carries, and nothing unescaped."""

import copy
from typing import Annotated, Any, Final, Self

from fastapi import Depends, Request
from fastapi.responses import HTMLResponse

from monitor.access.sessions import key_of
from monitor.model import AlarmState, Role
from monitor.phrase import Phrase
from monitor.speaking import templates
from monitor.store import ReadingReader
from monitor.web.alarm_boxes import names
from monitor.web.desk import Desk
from monitor.web.guard import FormKey
from monitor.web.limits import Limits
from monitor.web.look import Look
from monitor.web.sound import whole
from monitor.web.tonight import Outlook
from monitor.web.trails import Trails
from monitor.web.visitor import ACTING, LOCAL, Visitor
from monitor.web.words import NAV, SETTINGS


class Pages:
    """The templates, and what pages keep between two looks."""

    def __init__(self, desk: Desk, key: FormKey) -> None:
        self.desk: Final = desk
        self.key = key
        self.visitor = LOCAL
        self.trails: Final = Trails()
        self.outlook: Final = Outlook()
        self.limits: Final = Limits()
        self._templates = templates()
        self._templates.globals["me"] = ACTING.get

    def seen_by(self, visitor: Visitor) -> Self:
        """Return the pages as one visitor gets them: with the key of that session's forms."""
        own = copy.copy(self)
        own.visitor = visitor
        if visitor.session:
            own.key = FormKey(key_of(visitor.session))
        return own

    def look(self) -> Look:
        """Take a look at the monitor."""
        return Look.at(self.desk)

    def reader(self) -> ReadingReader:
        """Return this thread's reader."""
        return self.desk.reader()

    def page(
        self, look: Look, template: str, here: str, /, *, status: int = 200, **told: Any  # noqa: ANN401  # what templates show
    ) -> HTMLResponse:  # fmt: skip
        """Return a page; ``here`` is its own path, to which a form comes back."""
        counts = self.desk.ledger.open_counts()
        unseen = counts[AlarmState.UNACKNOWLEDGED]
        text = self._templates.get_template(template).render(
            farm_name=look.farm.name,
            nav=self._nav(),
            here=here,
            unseen_count=unseen,
            other_count=counts.total() - unseen,
            as_of=look.day_and_time(),
            seen_ms=look.now_ms,
            zone=look.farm.zone.key,
            form_key=self.key.value,
            people=[self.visitor.name] if self.visitor.name else names(look),
            signed_in=bool(self.visitor.session),
            may_record=self.visitor.may(Role.HELP),
            **told,
        )
        return HTMLResponse(whole(text), status)

    def _nav(self) -> list[tuple[str, str]]:
        """Return the pages that are offered: settings to whoever may change them."""
        may_change = self.visitor.may(Role.CHANGE)
        return [each for each in NAV if self.visitor.role and (may_change or each[0] != SETTINGS)]

    def stale_form(self) -> HTMLResponse:
        """Return the page that answers a form without this run's key: nothing was done."""
        sentence = Phrase(
            "That page was older than the monitor's last start, so nothing was done. "
            "Go back, load it again and press once more."
        )
        return self.said(sentence, 403)

    def said(self, sentence: str, status: int) -> HTMLResponse:
        """Return a page that says one thing."""
        return self.page(self.look(), "missing.html", "", status=status, sentence=sentence)


def pages_for(request: Request) -> Pages:
    """Return the pages as whoever sent a request gets them."""
    found: Pages = request.app.state.pages
    return found.seen_by(request.scope["visitor"])


async def _of_app(request: Request) -> Pages:
    return pages_for(request)


Here = Annotated[Pages, Depends(_of_app)]
"""What every route is given."""
