"""Signing in and out: who gets a session, how it is kept, and how it ends."""

import asyncio
import re
import shutil
import statistics
import time
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import pytest
from fastapi import FastAPI

from monitor.access.accounts import Account, accounts_of
from monitor.access.certificate import make
from monitor.access.passwords import fits, hashed
from monitor.access.slowing import FREE
from monitor.farm import Web
from monitor.model import AlarmState, Role
from monitor.web.app import create_app
from monitor.web.visitor import proxied
from tests.web.desk import SmallDesk
from tests.web.signing import AWAY, HERE, PASSWORD, Browser

PEOPLE = """
[[person]]
id = "wren"
name = "Wren"
role = "help"

[[person]]
id = "robin"
name = "Robin"
"""


@pytest.fixture
def desk(own_desk: SmallDesk) -> SmallDesk:
    """Return a desk on whose farm Wren has a password and Robin has none."""
    (own_desk.folder / "people.toml").write_text(PEOPLE, encoding="utf-8")
    own_desk.judge()
    accounts_of(own_desk.folder).keep("wren", Account(hashed(PASSWORD)))
    return own_desk


@pytest.fixture
def app(desk: SmallDesk) -> FastAPI:
    """Return the application of that desk."""
    return create_app(desk)


def _configure(desk: SmallDesk, lines: str) -> FastAPI:
    file = desk.folder / "farm.toml"
    text = file.read_text(encoding="utf-8")
    file.write_text(text.replace("[pages]\n", f"[pages]\n{lines}\n"), encoding="utf-8")
    desk.judge()
    return create_app(desk)


def test_a_stranger_signs_in_and_comes_to_the_page_that_was_asked_for(app: FastAPI) -> None:
    """From elsewhere a page asks for the sign-in first, and leads back after it."""
    phone = Browser(app, AWAY)
    asked = phone.get("/alarms?x=1")
    assert (asked.status_code, asked.headers["location"]) == (303, "/sign-in?back=/alarms%3Fx%3D1")
    page = phone.get(asked.headers["location"])
    assert 'name="back" value="/alarms?x=1"' in page.text
    done = phone.sign_in("Wren", PASSWORD, back="/alarms?x=1")
    assert (done.status_code, done.headers["location"]) == (303, "/alarms?x=1")
    assert 'Signed in as&nbsp;<a href="/account">Wren</a>' in phone.get("/alarms").text


def test_the_sign_in_page_tells_nothing_of_the_farm(app: FastAPI) -> None:
    """No place, batch, person, count of alarms or other page stands on it."""
    text = Browser(app, AWAY).get("/sign-in").text
    for word in ("Wren", "Robin", "cooler", "<nav", "live.js", 'class="count'):
        assert word not in text


@pytest.mark.parametrize("back", ["https://elsewhere.example/", "//elsewhere.example", "/\\e.x"])
def test_a_sign_in_leads_to_no_other_site(app: FastAPI, back: str) -> None:
    """The way back is a path of these pages, whatever the link said."""
    assert Browser(app, AWAY).sign_in("wren", PASSWORD, back=back).headers["location"] == "/"


def test_the_cookie_is_closed_to_scripts_and_other_sites(app: FastAPI) -> None:
    """HttpOnly, SameSite and no domain; over plain HTTP it cannot be Secure."""
    cookie = Browser(app, AWAY).sign_in("wren", PASSWORD).headers["set-cookie"]
    assert re.match(r"cormwatch=[\w-]{22,}; ", cookie)
    assert {"HttpOnly", "Path=/", "SameSite=lax"} <= set(cookie.split("; "))
    assert "Domain" not in cookie


def test_under_tls_the_cookie_is_bound_to_this_host_and_to_tls(app: FastAPI) -> None:
    """With TLS it is Secure with the __Host- prefix, and one without counts for nothing."""
    phone = Browser(app, AWAY, "https://127.0.0.1:8484")
    cookie = phone.sign_in("wren", PASSWORD).headers["set-cookie"]
    assert cookie.startswith("__Host-cormwatch=")
    assert {"Secure", "HttpOnly", "Path=/"} <= set(cookie.split("; "))
    value = cookie.partition("=")[2].partition(";")[0]
    other = Browser(app, AWAY, "https://127.0.0.1:8484")
    assert other.get("/", headers={"cookie": f"cormwatch={value}"}).status_code == 303
    assert other.get("/", headers={"cookie": f"__Host-cormwatch={value}"}).status_code == 200


def test_a_session_brought_along_is_never_taken_up(app: FastAPI) -> None:
    """Fixation: an id of an attacker's choice stays worthless, and a known one ends at sign-in."""
    phone = Browser(app, AWAY)
    phone.cookies.set("cormwatch", "chosen-by-somebody-else", domain=HERE)
    phone.sign_in("wren", PASSWORD)
    first = phone.cookies["cormwatch"]
    assert first != "chosen-by-somebody-else"
    phone.sign_in("wren", PASSWORD)
    assert phone.cookies["cormwatch"] != first
    old = Browser(app, AWAY)
    for dead in (first, "chosen-by-somebody-else"):
        assert old.get("/", headers={"cookie": f"cormwatch={dead}"}).status_code == 303


def test_signing_out_kills_the_session(app: FastAPI) -> None:
    """After it the same cookie opens nothing."""
    phone = Browser(app, AWAY)
    phone.sign_in("wren", PASSWORD)
    kept = phone.cookies["cormwatch"]
    assert phone.post("/sign-out").headers["location"] == "/sign-in"
    assert Browser(app, AWAY).get("/", headers={"cookie": f"cormwatch={kept}"}).status_code == 303


def test_a_restart_keeps_the_sign_in_and_its_forms(app: FastAPI, desk: SmallDesk) -> None:
    """A page that stood open over a restart can still acknowledge."""
    phone = Browser(app, AWAY)
    phone.sign_in("wren", PASSWORD)
    key = phone.key("/")
    phone.app = create_app(desk)
    answer = phone.ask(
        "POST", "/alarms/1/acknowledge", data={"form_key": key}, headers=phone.own_page()
    )
    assert answer.status_code == 303
    assert desk.ledger.alarm(1).acknowledged_by == "Wren"


def test_whoever_is_signed_in_acts_in_that_name_only(app: FastAPI, desk: SmallDesk) -> None:
    """A name in the form or in the JSON is not taken from somebody who has signed in."""
    phone = Browser(app, AWAY)
    phone.sign_in("wren", PASSWORD)
    assert 'name="by" autocomplete="name"' not in phone.get("/alarms/1").text
    phone.post("/alarms/1/acknowledge", "/alarms/1", by="Robin")
    assert desk.ledger.alarm(1).acknowledged_by == "Wren"
    phone.ask(
        "POST", "/api/alarms/1/quiet", json={"by": "Robin", "why": "door seal", "hours": 1},
        headers=phone.own_page(),
    )  # fmt: skip
    assert [each.by for each in desk.ledger.audit(1)][-1] == "Wren"


@pytest.mark.parametrize("length", [61, 300])
def test_a_long_name_acknowledges_too(desk: SmallDesk, length: int) -> None:
    """Whoever the farm's file knows can say that an alarm was seen, in the page and by JSON."""
    name = "W" + "r" * (length - 1)
    (desk.folder / "people.toml").write_text(PEOPLE.replace('"Wren"', f'"{name}"'), "utf-8")
    desk.judge()
    phone = Browser(create_app(desk), AWAY)
    phone.sign_in("wren", PASSWORD)
    assert phone.post("/alarms/1/acknowledge", "/alarms/1").status_code == 303
    assert desk.ledger.alarm(1).acknowledged_by == name
    asked = {"why": "door seal", "hours": 1}
    quiet = phone.ask("POST", "/api/alarms/1/quiet", json=asked, headers=phone.own_page())
    assert quiet.status_code == 200


def test_a_new_password_ends_the_sessions_of_the_old(app: FastAPI, desk: SmallDesk) -> None:
    """A command on the machine signs a lost phone out, without a restart."""
    phone = Browser(app, AWAY)
    phone.sign_in("wren", PASSWORD)
    assert phone.get("/").status_code == 200
    accounts_of(desk.folder).keep("wren", Account(hashed("another glove")))
    assert phone.get("/").status_code == 303
    assert phone.sign_in("wren", PASSWORD).status_code == 403


def test_a_person_taken_out_of_the_file_is_signed_out(app: FastAPI, desk: SmallDesk) -> None:
    """Who is no longer one of the farm's people has no session and no sign-in."""
    phone = Browser(app, AWAY)
    phone.sign_in("wren", PASSWORD)
    (desk.folder / "people.toml").write_text('[[person]]\nid = "robin"\nname = "Robin"\n')
    desk.judge()
    assert phone.get("/").status_code == 303
    assert phone.sign_in("wren", PASSWORD).status_code == 403


def test_a_role_taken_away_counts_at_once(app: FastAPI, desk: SmallDesk) -> None:
    """The role is the file's of now, not that of the sign-in."""
    phone = Browser(app, AWAY)
    phone.sign_in("wren", PASSWORD)
    text = PEOPLE.replace('"help"', '"see"')
    (desk.folder / "people.toml").write_text(text, encoding="utf-8")
    desk.judge()
    assert phone.post("/alarms/1/acknowledge").status_code == 403
    assert desk.ledger.alarm(1).state is AlarmState.UNACKNOWLEDGED


# -- guessing ----------------------------------------------------------------------------


@pytest.mark.parametrize("name", ["wren", "robin", "nobody", "", "x" * 101])
def test_every_wrong_sign_in_is_answered_in_the_same_words(app: FastAPI, name: str) -> None:
    """A wrong password, a person without one and an unknown name cannot be told apart."""
    if len(name) > 100:
        assert Browser(app, AWAY).sign_in(name, "x").status_code == 422
        return
    told = Browser(app, AWAY).sign_in(name, "wrong, all of it")
    assert told.status_code == 403
    assert "do not fit together" in told.text
    assert name == "" or name not in told.text.lower().partition("<main")[2]
    assert "set-cookie" not in told.headers


def test_an_unknown_name_takes_as_long(app: FastAPI) -> None:
    """The same hash is made for every name: left out, one would be answered ten times as fast."""
    took: dict[str, list[float]] = {}
    for turn in range(7):
        for kind, name in (("known", "wren"), ("mute", "robin"), ("unknown", f"nobody-{turn}")):
            app.state.house.slowing._failed.clear()
            app.state.house.turnstile._passed.clear()
            phone = Browser(app, AWAY)
            key = phone.key("/sign-in")
            began = time.perf_counter()
            phone.ask(
                "POST", "/sign-in", data={"form_key": key, "name": name, "password": "wrong one"},
                headers=phone.own_page(),
            )  # fmt: skip
            took.setdefault(kind, []).append(time.perf_counter() - began)
    medians = {kind: statistics.median(each) for kind, each in took.items()}
    assert max(medians.values()) < 2 * min(medians.values()), medians


@pytest.mark.parametrize("name", ["wren", "nobody"])
def test_guessing_is_slowed_for_every_name(app: FastAPI, name: str) -> None:
    """After three failures even the right password waits, as it does for a made-up name."""
    phone = Browser(app, AWAY)
    for _ in range(FREE):
        assert phone.sign_in(name, "wrong one").status_code == 403
    told = phone.sign_in(name, PASSWORD)
    assert told.status_code == 429
    assert re.search(r"Wait [12] seconds", told.text)
    assert told.headers["retry-after"] in {"1", "2"}
    assert "set-cookie" not in told.headers


def test_who_guesses_locks_no_owner_out(app: FastAPI) -> None:
    """While somebody guesses from many addresses, the phone that was signed in before signs in."""
    phone = Browser(app, AWAY)
    phone.sign_in("wren", PASSWORD)
    phone.post("/sign-out")
    codes = {
        number: Browser(app, f"192.168.7.{number}").sign_in("wren", "a guess").status_code
        for number in range(50, 62)
    }
    assert set(codes.values()) == {403, 429}
    assert Browser(app, "192.168.7.90").sign_in("wren", PASSWORD).status_code == 429
    assert phone.sign_in("wren", PASSWORD).status_code == 303


def test_a_password_is_changed_while_somebody_guesses(app: FastAPI) -> None:
    """Failures at the sign-in hold up nobody who has signed in, and are no way to guess on."""
    phone = Browser(app, AWAY)
    phone.sign_in("wren", PASSWORD)
    for number in range(12):
        Browser(app, f"192.168.8.{number}").sign_in("wren", "a guess")
    done = phone.post("/account/password", password=PASSWORD, new="another glove")
    assert done.status_code == 303
    told = [phone.post("/account/password", password="x", new="third glove") for _ in range(4)]  # noqa: S106
    assert "Too many tries" in told[-1].text


@pytest.mark.parametrize("name", ["wren", "Wren Field", "wren-field", "  WREN FIELD "])
def test_a_name_signs_in_as_well_as_an_id(desk: SmallDesk, name: str) -> None:
    """The name that stands on the pages is taken too, however it is spelt."""
    text = PEOPLE.replace('"Wren"', '"Wren Field"')
    (desk.folder / "people.toml").write_text(text, encoding="utf-8")
    desk.judge()
    assert Browser(create_app(desk), AWAY).sign_in(name, PASSWORD).status_code == 303


def test_a_name_that_two_have_signs_nobody_in(desk: SmallDesk) -> None:
    """Where two are called the same, only the id tells them apart, and an id goes before a name."""
    text = PEOPLE.replace('"Wren"', '"Robin"')
    (desk.folder / "people.toml").write_text(text, encoding="utf-8")
    desk.judge()
    app = create_app(desk)
    assert Browser(app, AWAY).sign_in("Robin", PASSWORD).status_code == 403
    assert Browser(app, AWAY).sign_in("wren", PASSWORD).status_code == 303


def test_two_spellings_of_one_person_are_slowed_as_one(desk: SmallDesk) -> None:
    """Name and id are the same account to a guesser."""
    text = PEOPLE.replace('"Wren"', '"Wren Field"')
    (desk.folder / "people.toml").write_text(text, encoding="utf-8")
    desk.judge()
    phone = Browser(create_app(desk), AWAY)
    codes = [
        phone.sign_in(each, "x").status_code for each in ("wren", "Wren Field", "WREN", "wren")
    ]
    assert codes == [403, 403, 403, 429]


def test_tries_at_the_same_moment_do_not_slip_through(app: FastAPI) -> None:
    """Of twelve tries sent together only the free ones are compared with the password."""
    phone = Browser(app, AWAY)
    key = phone.key("/sign-in")

    async def together() -> list[int]:
        import httpx  # noqa: PLC0415 - here alone

        door = httpx.ASGITransport(app=app, client=(AWAY, 1))
        async with httpx.AsyncClient(transport=door, base_url=phone.site) as client:
            sent = [
                client.post(
                    "/sign-in", data={"form_key": key, "name": "wren", "password": f"guess {n}"},
                    headers=phone.own_page(),
                )
                for n in range(12)
            ]  # fmt: skip
            return [each.status_code for each in await asyncio.gather(*sent)]

    codes = asyncio.run(together())
    assert codes.count(403) == FREE
    assert codes.count(429) == 12 - FREE


def test_a_flood_of_names_is_cut(app: FastAPI) -> None:
    """From one address twenty tries a minute are looked at, whatever the names."""
    phone = Browser(app, AWAY)
    codes = [phone.sign_in(f"nobody-{number}", "x").status_code for number in range(21)]
    assert codes == [403] * 20 + [429]
    assert Browser(app, "192.168.7.31").sign_in("wren", PASSWORD).status_code == 303


def test_no_password_or_name_typed_wrongly_is_logged(
    app: FastAPI, caplog: pytest.LogCaptureFixture
) -> None:
    """The log says that a sign-in failed and from where, and nothing of what was typed."""
    caplog.set_level("DEBUG")
    Browser(app, AWAY).sign_in("my secret phrase", "my other phrase")
    Browser(app, AWAY).sign_in("wren", PASSWORD)
    assert f"from {AWAY} failed (nobody)" in caplog.text
    assert "wren has signed in" in caplog.text
    for secret in ("secret phrase", "other phrase", PASSWORD, "argon2"):
        assert secret not in caplog.text


# -- other sites -------------------------------------------------------------------------


@pytest.mark.parametrize(
    "headers",
    [{}, {"origin": "https://elsewhere.example"}, {"origin": "null"},
     {"origin": "https://127.0.0.1:8484"}, {"sec-fetch-site": "cross-site"},
     {"sec-fetch-site": "same-site"}],
)  # fmt: skip
@pytest.mark.parametrize("path", ["/alarms/1/acknowledge", "/sign-out", "/account/password"])
def test_another_sites_page_does_nothing_with_the_session(
    app: FastAPI, desk: SmallDesk, path: str, headers: dict[str, str]
) -> None:
    """Even with the right key a post must say that it comes from these pages."""
    phone = Browser(app, AWAY)
    phone.sign_in("wren", PASSWORD)
    sent = {"form_key": phone.key("/help"), "password": PASSWORD, "new": "another glove"}
    assert phone.ask("POST", path, data=sent, headers=headers).status_code in {400, 403}
    assert phone.get("/help").status_code == 200
    assert desk.ledger.alarm(1).state is AlarmState.UNACKNOWLEDGED
    assert fits(accounts_of(desk.folder).of("wren").password, PASSWORD)


def test_a_json_post_needs_to_come_from_these_pages_too(app: FastAPI, desk: SmallDesk) -> None:
    """The programming interface takes a browser's session from its own pages only."""
    phone = Browser(app, AWAY)
    phone.sign_in("wren", PASSWORD)
    answer = phone.ask("POST", "/api/alarms/1/acknowledge", json={"by": "x"})
    assert answer.status_code == 403
    assert desk.ledger.alarm(1).state is AlarmState.UNACKNOWLEDGED


@pytest.mark.parametrize("key", ["", "made up"])
def test_every_form_brings_its_sessions_key(app: FastAPI, desk: SmallDesk, key: str) -> None:
    """Without it, or with that of another session, nothing is done."""
    phone, other = Browser(app, AWAY), Browser(app, AWAY)
    phone.sign_in("wren", PASSWORD)
    other.sign_in("wren", PASSWORD)
    for wrong in (key, other.key("/help"), Browser(app, HERE).key("/")):
        for path in (
            "/alarms/1/acknowledge",
            "/sign-out",
            "/account/password",
            "/account/out",
            "/account/language",
        ):
            sent = {"form_key": wrong}
            answer = phone.ask("POST", path, data=sent, headers=phone.own_page())
            assert answer.status_code == 403
    assert desk.ledger.alarm(1).state is AlarmState.UNACKNOWLEDGED
    assert phone.get("/help").status_code == 200


def test_nobody_is_signed_in_by_somebody_elses_page(app: FastAPI) -> None:
    """A post to the sign-in that does not say where it comes from is refused."""
    phone = Browser(app, AWAY)
    sent = {"form_key": phone.key("/sign-in"), "name": "wren", "password": PASSWORD}
    assert phone.ask("POST", "/sign-in", data=sent).status_code == 403
    assert "cormwatch" not in phone.cookies


# -- who is local ------------------------------------------------------------------------


@pytest.mark.parametrize(
    "headers",
    [{"x-forwarded-for": "127.0.0.1"}, {"x-forwarded-proto": "https"}, {"forwarded": "for=_x"},
     {"x-real-ip": "127.0.0.1"}, {"via": "1.1 barn"}, {"x-forwarded-anything": ""}],
)  # fmt: skip
def test_what_was_passed_on_is_not_local(app: FastAPI, headers: dict[str, str]) -> None:
    """A request that another server here passes on needs a sign-in, whatever it claims."""
    assert Browser(app, HERE).get("/").status_code == 200
    assert Browser(app, HERE).get("/", headers=headers).status_code == 303


def test_nothing_that_is_claimed_makes_a_stranger_local(app: FastAPI) -> None:
    """From another address no header stands for this computer's."""
    claims = {"x-forwarded-for": "127.0.0.1", "x-real-ip": "::1", "host": "localhost:8484"}
    assert Browser(app, AWAY).get("/", headers=claims).status_code == 303


def test_always_asks_at_this_computer_too(desk: SmallDesk) -> None:
    """With sign_in = "always" nobody is let in without a password."""
    here = Browser(_configure(desk, 'sign_in = "always"'), HERE)
    assert here.get("/").status_code == 303
    here.sign_in("wren", PASSWORD)
    assert here.get("/").status_code == 200


def test_an_address_that_only_another_server_can_answer_ends_what_is_local(
    desk: SmallDesk,
) -> None:
    """With base_url of a server in front, a request that it passes on bare needs a sign-in."""
    app = _configure(desk, 'base_url = "https://barn.example"')
    assert Browser(app, HERE).get("/").status_code == 303


@pytest.mark.parametrize(
    ("web", "said"),
    [(Web(), False), (Web(base_url="http://127.0.0.1:8484"), False),
     (Web(base_url="https://barn.example"), True),
     (Web(host="0.0.0.0", base_url="http://192.168.7.2:8484"), False),  # noqa: S104 - the case
     (Web(host="0.0.0.0", base_url="https://barn.example"), True),  # noqa: S104 - the case
     (Web(host="0.0.0.0", base_url="https://barn.local", certificate=Path("x")), False)],  # noqa: S104
)  # fmt: skip
def test_a_server_in_front_is_known_by_the_farms_file(web: Web, said: bool) -> None:
    """An address that the pages cannot answer themselves is another server's."""
    assert proxied(web) is said


# -- programs ----------------------------------------------------------------------------


def test_a_program_brings_a_token(app: FastAPI, desk: SmallDesk) -> None:
    """A token opens what its role allows, never more than its person may, and needs no key."""
    accounts = accounts_of(desk.folder)
    see = {"authorization": f"Bearer {accounts.new_token('wren', Role.SEE, 0)}"}
    more = {"authorization": f"Bearer {accounts.new_token('wren', Role.CHANGE, 0)}"}
    program = Browser(app, AWAY)
    assert program.get("/api/places").status_code == 401
    assert program.get("/metrics").status_code == 401
    assert program.get("/api/places", headers=see).status_code == 200
    assert program.get("/metrics", headers=see).status_code == 200
    asked = {"by": "Robin"}
    path = "/api/alarms/1/acknowledge"
    assert program.ask("POST", path, json=asked, headers=see).status_code == 403
    assert program.ask("POST", path, json=asked, headers=more).status_code == 200
    assert desk.ledger.alarm(1).acknowledged_by == "Wren"
    accounts.keep("wren", replace(accounts.of("wren"), tokens=()))
    assert program.get("/api/places", headers=see).status_code == 401


def test_a_wrong_token_is_not_made_up_for_by_being_local(app: FastAPI) -> None:
    """Who brings a token is judged by it."""
    wrong = {"authorization": "Bearer made-up"}
    assert Browser(app, HERE).get("/api/places", headers=wrong).status_code == 401


# -- the account -------------------------------------------------------------------------


def test_a_password_is_changed_by_whoever_knows_it(app: FastAPI, desk: SmallDesk) -> None:
    """The password of now is asked for; other phones are signed out, this one goes on."""
    phone, other = Browser(app, AWAY), Browser(app, AWAY)
    phone.sign_in("wren", PASSWORD)
    other.sign_in("wren", PASSWORD)
    wrong = phone.post("/account/password", password="guess", new="another glove")  # noqa: S106
    assert "nothing was changed" in wrong.text
    weak = phone.post("/account/password", password=PASSWORD, new="password1")
    assert "choose another" in weak.text
    done = phone.post("/account/password", password=PASSWORD, new="another glove")
    assert done.status_code == 303
    assert fits(accounts_of(desk.folder).of("wren").password, "another glove")
    assert phone.get("/").status_code == 200
    assert other.get("/").status_code == 303


def test_signing_out_everywhere_ends_every_session(app: FastAPI) -> None:
    """A lost phone is signed out from another."""
    phone, lost = Browser(app, AWAY), Browser(app, AWAY)
    phone.sign_in("wren", PASSWORD)
    lost.sign_in("wren", PASSWORD)
    phone.post("/account/out")
    assert lost.get("/").status_code == 303
    assert phone.get("/").status_code == 303


def test_an_accounts_file_that_cannot_be_read_lets_nobody_in(app: FastAPI, desk: SmallDesk) -> None:
    """It shows no path to a stranger, and at this computer the pages go on."""
    (desk.folder / "secrets" / "accounts.json").write_text("{", encoding="utf-8")
    told = Browser(app, AWAY).sign_in("wren", PASSWORD)
    assert told.status_code == 403
    assert "accounts.json" not in told.text
    assert Browser(app, HERE).get("/").status_code == 200


def test_strict_transport_goes_with_tls_and_not_to_this_computers_name(app: FastAPI) -> None:
    """A browser is told to keep to TLS for the farm's name; localhost is left to others."""
    far = Browser(app, AWAY, "https://192.168.7.2:8484").get("/sign-in")
    assert "max-age=31536000" in far.headers["strict-transport-security"]
    for site in ("https://localhost:8484", "http://192.168.7.2:8484"):
        assert "strict-transport-security" not in Browser(app, AWAY, site).get("/sign-in").headers


@pytest.mark.parametrize(("folder", "strict"), [("secrets", False), ("bought", True)])
def test_a_home_made_certificate_locks_no_phone_out(
    desk: SmallDesk, folder: str, *, strict: bool
) -> None:
    """A browser may pass one that has ended by; one from elsewhere is held to."""
    make(desk.folder, ["192.168.7.2"], datetime(2026, 7, 1, tzinfo=UTC))
    (desk.folder / "bought").mkdir()
    for file in ("pages.crt", "pages.key"):
        shutil.copy(desk.folder / "secrets" / file, desk.folder / "bought" / file)
    app = _configure(desk, f'certificate = "{folder}/pages.crt"\nkey = "{folder}/pages.key"')
    far = Browser(app, AWAY, "https://192.168.7.2:8484").get("/sign-in")
    assert ("strict-transport-security" in far.headers) is strict


def test_a_stranger_hears_of_the_health_and_no_more(app: FastAPI) -> None:
    """Ready or not is for everybody; what is wrong names people and folders."""
    told = Browser(app, AWAY).get("/health/ready")
    assert told.status_code in {200, 503}
    assert set(told.json()) == {"status"}
    phone = Browser(app, AWAY)
    phone.sign_in("wren", PASSWORD)
    for browser in (phone, Browser(app, HERE)):
        assert {"status", "broker", "store", "troubles"} <= set(browser.get("/health/ready").json())
