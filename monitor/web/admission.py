"""Lets in who may: finds out who asks, and what the route asked for needs."""

import asyncio
import logging
import threading
from typing import Final
from urllib.parse import quote

from starlette.concurrency import run_in_threadpool
from starlette.datastructures import Headers
from starlette.requests import cookie_parser
from starlette.responses import JSONResponse, RedirectResponse, Response
from starlette.types import ASGIApp, Receive, Scope, Send

from monitor.access.accounts import accounts_of
from monitor.access.sessions import Sessions
from monitor.access.slowing import Slowing, Turnstile
from monitor.clock import monotonic_s
from monitor.errors import FarmError
from monitor.farm import Web
from monitor.model import Role
from monitor.phrase import Phrase
from monitor.speaking import LANGUAGE
from monitor.web.desk import Desk
from monitor.web.guard import READING, says_own
from monitor.web.rendering import Pages
from monitor.web.roles import ROLES, declared
from monitor.web.speaking import language_of
from monitor.web.visitor import ACTING, LOCAL, STRANGER, Visitor, cookie_name, local, secure

MACHINES: Final = ("/api/", "/metrics", "/live")
_BEARER: Final = "Bearer "
log = logging.getLogger("cormwatch.web")


class House:
    """What stands between a visitor and the pages of one farm: accounts, sessions, slowing."""

    def __init__(self, desk: Desk) -> None:
        farm = desk.farm()
        self.desk: Final = desk
        self.accounts: Final = accounts_of(farm.directory)
        self.sessions: Final = Sessions(farm.data_dir / "sessions.json")
        self.slowing: Final = Slowing()
        self.turnstile: Final = Turnstile()
        self.one_at_a_time: Final = threading.Lock()

    @property
    def web(self) -> Web:
        """Return where and how the pages are served."""
        return self.desk.farm().web

    def visitor(self, scope: Scope) -> Visitor:
        """Return who asks."""
        headers = Headers(scope=scope)
        brought = headers.get("authorization", "")
        try:
            if brought.startswith(_BEARER):
                return self._program(brought.removeprefix(_BEARER).strip())
            cookies = cookie_parser(headers.get("cookie", ""))
            signed_in = self._person(cookies.get(cookie_name(tls=secure(scope, self.web)), ""))
        except FarmError as failure:  # a file that cannot be read lets nobody in by it
            log.error("%s", failure)  # noqa: TRY400 - expected
            signed_in = None
        if signed_in is not None:
            return signed_in
        return LOCAL if local(scope, self.web) else STRANGER

    def stored(self, person: str) -> str | None:
        """Return the hash of a person's password; None where there is none, or no file to read."""
        try:
            return self.accounts.of(person).password
        except FarmError as failure:
            log.error("%s", failure)  # noqa: TRY400 - expected
            return None

    def has_passwords(self) -> bool:
        """Return whether anybody can sign in."""
        return any(self.stored(each) for each in self.desk.farm().people)

    def _program(self, token: str) -> Visitor:
        found = self.accounts.by_token(token)
        person = self.desk.farm().people.get(found[0]) if found else None
        if found is None or person is None:
            return STRANGER
        role = found[1] if person.role.covers(found[1]) else person.role
        return Visitor(role, person.id, person.name)

    def _person(self, session_id: str) -> Visitor | None:
        session = self.sessions.find(session_id, monotonic_s()) if session_id else None
        person = self.desk.farm().people.get(session.person) if session else None
        if session is None or person is None:
            return None
        account = self.accounts.of(person.id)
        if account.password is None or account.mark != session.mark:
            return None
        return Visitor(person.role, person.id, person.name, session_id)


class Admission:
    """Asks for a sign-in, or refuses, before a route is reached."""

    def __init__(self, app: ASGIApp, house: House, pages: Pages) -> None:
        self._app = app
        self._house = house
        self._pages = pages

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer, or refuse."""
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return
        visitor = scope["visitor"] = self._house.visitor(scope)
        ACTING.set(visitor.name)
        LANGUAGE.set(language_of(scope, visitor, self._house.desk.farm()))
        refusal = await self._refusal(scope, visitor)
        await (refusal or self._app)(scope, receive, send)
        if visitor.session and self._house.sessions.due(monotonic_s()):
            await asyncio.to_thread(self._house.sessions.save_if_due, monotonic_s())

    async def _refusal(self, scope: Scope, visitor: Visitor) -> Response | None:
        method, path = scope["method"], scope["path"]
        route = declared(method, path)
        needed = Role.SEE if route is None else ROLES[route]
        if not visitor.may(needed):
            return await self._turned_away(scope, visitor)
        if route is None:
            return await self._said(scope, visitor, 404, Phrase("There is no such page."))
        begins = path == "/sign-in"  # nobody is to be signed in by somebody else's page either
        if method not in READING and (visitor.session or begins):
            own = says_own(scope, self._house.web)
            return None if own else await self._said(
                scope, visitor, 403, Phrase("A page from elsewhere may not act here.")
            )  # fmt: skip
        return None

    async def _turned_away(self, scope: Scope, visitor: Visitor) -> Response:
        path = scope["path"]
        if visitor.role is not None:
            return await self._said(
                scope, visitor, 403,
                Phrase("Your sign-in does not go so far. Ask whoever keeps the farm's files."),
            )  # fmt: skip
        if path.startswith(MACHINES) or scope["method"] not in READING:
            return JSONResponse(
                {"detail": "sign in first"},
                401,
                {"WWW-Authenticate": 'Bearer realm="cormwatch"'},
            )
        asked = scope.get("query_string", b"").decode("latin-1")
        back = quote(f"{path}?{asked}" if asked else path)[:600]
        return RedirectResponse(f"/sign-in?back={back}" if path != "/" else "/sign-in", 303)

    async def _said(self, scope: Scope, visitor: Visitor, status: int, sentence: str) -> Response:
        if scope["path"].startswith(MACHINES):
            return JSONResponse({"detail": sentence}, status)
        pages = self._pages.seen_by(visitor)
        return await run_in_threadpool(pages.said, sentence, status)
