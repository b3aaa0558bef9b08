"""Every route has a role, and answers nobody with less."""

from collections.abc import Iterator

import pytest
from fastapi.routing import APIRoute
from starlette.routing import Mount, Route

from monitor.model import Role
from monitor.web.app import PARTS, create_app
from monitor.web.roles import ROLES, declared
from tests.web.desk import SmallDesk
from tests.web.everyone import People, everyone
from tests.web.paths import filled

KEPT_OPEN = {
    ("GET", "/sign-in"), ("POST", "/sign-in"), ("GET", "/a/{token}"), ("POST", "/a/{token}"),
    ("GET", "/static/{path:path}"), ("GET", "/vendor/{path:path}"), ("GET", "/health/live"),
    ("GET", "/health/ready"), ("GET", "/authority.crt"), ("GET", "/sw.js"),
}  # fmt: skip


def _routes(desk: SmallDesk) -> Iterator[tuple[str, str]]:
    """Yield method and path of all that the application answers, however it was added."""
    app = create_app(desk)
    others = [each for each in app.router.routes if isinstance(each, Route | Mount)]
    added = [each for each in app.router.routes if each not in others]
    assert len(added) == len(PARTS), "a router was added past PARTS in app.py"
    for part in PARTS:
        for each in part.routes:
            assert isinstance(each, APIRoute)
            yield from ((method, each.path) for method in each.methods or ())
    for other in others:
        if isinstance(other, Mount):
            yield "GET", f"{other.path}/{{path:path}}"
        else:
            yield from ((method, other.path) for method in (other.methods or ()))


def test_every_route_has_a_role(own_desk: SmallDesk) -> None:
    """A route without a line in the table of roles answers nobody: give it one."""
    found = {(method, path) for method, path in _routes(own_desk) if method != "HEAD"}
    assert found - set(ROLES) == set(), "add these to monitor/web/roles.py"
    assert set(ROLES) - found == set(), "these routes are gone: take them out of roles.py"


def test_what_is_open_to_everyone_is_counted() -> None:
    """Only the sign-in, links that are keys, health, and the looks are."""
    assert {route for route, role in ROLES.items() if role is None} == KEPT_OPEN


def test_a_path_leads_to_its_own_line() -> None:
    """A filled-in path is found again as the route it was made of, and nothing else is."""
    for method, path in ROLES:
        assert declared(method, filled(path)) == (method, path)
    assert declared("HEAD", "/") == ("GET", "/")
    for method, path in (("POST", "/"), ("GET", "/a"), ("GET", "//"), ("DELETE", "/alarms/1")):
        assert declared(method, path) is None


@pytest.fixture(scope="module")
def people(desk: SmallDesk) -> People:
    """Return someone signed in with each role, away from the monitor's computer."""
    return everyone(desk)


@pytest.mark.parametrize("role", [None, *Role], ids=str)
@pytest.mark.parametrize("route", list(ROLES), ids=" ".join)
def test_each_route_answers_each_role_as_the_table_says(
    people: People, route: tuple[str, str], role: Role | None
) -> None:
    """Whoever has the role gets past the door, and whoever has less does not."""
    method, path = route
    if path == "/live" and role is not None:
        return  # an endless stream: tested in test_signing_in
    browser, needed = people.by_role[role], ROLES[route]
    # Without its key or a body a form does nothing, so that no test changes the next.
    answer = browser.ask(method, filled(path), headers=browser.own_page())
    if needed is None or (role is not None and role.covers(needed)):
        assert answer.status_code not in {401, 303}
        assert "does not go so far" not in answer.text
    elif role is None:
        to_sign_in = answer.headers.get("location", "").startswith("/sign-in")
        assert answer.status_code == 401 or (answer.status_code == 303 and to_sign_in)
    else:
        assert answer.status_code == 403
        assert "does not go so far" in answer.text
    if role is None and needed is not None:
        for word in ("Walk-in cooler", "Dawn Apricot", "43.", "cooler-door-side"):
            assert word not in answer.text


@pytest.mark.parametrize("path", ["/nowhere", "/ALARMS", "/alarms/", "/api", "/docs", "/secrets"])
def test_a_stranger_does_not_learn_which_pages_there_are(people: People, path: str) -> None:
    """What does not exist leads a stranger to the sign-in as what does, and others to a 404."""
    assert people.by_role[None].get(path).headers["location"].startswith("/sign-in")
    assert people.by_role[Role.CHANGE].get(path).status_code == 404


@pytest.mark.parametrize(
    "path",
    ["/static/../../../people.toml", "/static/%2e%2e/%2e%2e/people.toml", "/vendor/..%2f..%2fx",
     "/static//etc/passwd", "/static/..\\..\\people.toml"],
)  # fmt: skip
def test_no_path_leads_out_of_the_open_folders(people: People, path: str) -> None:
    """Dots and slashes, plain or encoded, reach no file but those that are open."""
    answer = people.by_role[None].get(path)
    assert answer.status_code in {303, 404}
    assert "person" not in answer.text


FOREIGN: tuple[dict[str, str], ...] = (
    {"origin": "https://elsewhere.example"},
    {"sec-fetch-site": "cross-site"},
    {},
)


@pytest.mark.parametrize("headers", FOREIGN, ids=["origin", "fetch", "nothing said"])
def test_no_route_is_written_to_from_another_site(people: People, headers: dict[str, str]) -> None:
    """With the session of whoever may do everything, and without a page of ours, none does."""
    browser = people.by_role[Role.CHANGE]
    for method, path in ROLES:
        if method != "GET" and not path.startswith("/a/"):  # a link is the key by itself
            answer = browser.ask(method, filled(path), headers=headers, json={"by": "x"})
            assert answer.status_code in {400, 403}, path


def test_no_look_changes_anything(people: People, desk: SmallDesk) -> None:
    """However often the pages are looked at, files and ledger stay as they are."""
    browser = people.by_role[Role.CHANGE]

    def kept() -> tuple[object, ...]:
        ledger = desk.ledger
        files = {each.name: each.read_bytes() for each in desk.folder.glob("*.toml")}
        return files, ledger.alarms(), ledger.notices(), ledger.entries(), ledger.audit(1)

    before = kept()
    for method, path in ROLES:
        if method == "GET" and path != "/live":  # that is an endless one, and only tells
            browser.get(filled(path))
    assert kept() == before


def test_every_answer_carries_the_headers_that_close_it(people: People) -> None:
    """A page, a refusal, a way elsewhere, a file and JSON: each says what a browser may not do."""
    stranger, all_ = people.by_role[None], people.by_role[Role.CHANGE]
    for browser, path in (
        (all_, "/"), (all_, "/nowhere"), (all_, "/api/places"), (stranger, "/"),
        (stranger, "/api/places"), (stranger, "/static/cormwatch.css"), (stranger, "/sign-in"),
    ):  # fmt: skip
        told = browser.get(path).headers
        for part in ("object-src 'none'", "base-uri 'none'", "frame-ancestors 'none'"):
            assert part in told["content-security-policy"], path
        assert told["x-content-type-options"] == "nosniff"
        assert "server" not in told
