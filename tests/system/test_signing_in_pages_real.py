"""Signing in as it is on a farm: the running monitor, its own TLS, nginx in front, a browser."""

import contextlib
import io
import os
import shutil
import ssl
import subprocess
import warnings
from collections.abc import Iterator
from pathlib import Path

import httpx
import pytest
from playwright.sync_api import expect

from monitor.access.accounts import Account, accounts_of
from monitor.access.authority import AUTHORITY
from monitor.access.passwords import hashed
from monitor.cli import main
from tests.system.brokers import free_port, wait_until
from tests.system.browsing import ARTEFACTS, browser, phone
from tests.system.daemons import Watched, new_farm

pytestmark = pytest.mark.system

PASSWORD = "wet glove 3am"  # noqa: S105 - a made-up one


def _pages(farm: Watched, lines: str) -> None:
    file = farm.folder / "farm.toml"
    text = file.read_text(encoding="utf-8")
    assert "[pages]\n" in text
    file.write_text(text.replace("[pages]\n", f"[pages]\n{lines}\n", 1), encoding="utf-8")


@pytest.fixture
def farm(tmp_path: Path) -> Iterator[Watched]:
    """Yield a farm whose Robin has a password; no daemon outlives the test."""
    made = new_farm(tmp_path / "farm", free_port())
    accounts_of(made.folder).keep("robin", Account(hashed(PASSWORD)))
    yield made
    made.kill()


@pytest.fixture
def encrypted(farm: Watched) -> Watched:
    """Return the farm with a certificate of its own, and its monitor running."""
    assert main(["certificate", "--farm", str(farm.folder)]) == 0
    _pages(farm, 'certificate = "secrets/pages.crt"\nkey = "secrets/pages.key"\nsign_in = "always"')
    return farm.start(ready=False)


def _visitor(farm: Watched) -> httpx.Client:
    trusted = ssl.create_default_context(cafile=farm.folder / AUTHORITY)
    return httpx.Client(base_url=farm.address, verify=trusted, headers={"origin": farm.address})


def _sign_in(client: httpx.Client, password: str = PASSWORD) -> httpx.Response:
    text = client.get("/sign-in").text
    key = text.partition('name="form_key" value="')[2].partition('"')[0]
    return client.post("/sign-in", data={"form_key": key, "name": "robin", "password": password})


def test_over_our_own_tls_a_session_is_bound_to_it(encrypted: Watched) -> None:
    """The daemon speaks TLS with a certificate that a client checks; the cookie is Secure."""
    assert encrypted.address.startswith("https://")
    with _visitor(encrypted) as client:
        assert client.get("/").status_code == 303
        cookie = _sign_in(client).headers["set-cookie"]
        assert cookie.startswith("__Host-cormwatch=")
        assert "; Secure" in cookie
        assert client.get("/").status_code == 200
        assert client.get("/").headers["cache-control"] == "no-store"
        trusted = (encrypted.folder / AUTHORITY).read_text(encoding="ascii")
        assert client.get("/authority.crt").text == trusted


def test_what_is_not_tls_learns_nothing(encrypted: Watched) -> None:
    """A plain request to the encrypted port gets no page; TLS older than 1.2 no handshake."""
    plain = encrypted.address.replace("https", "http")
    with pytest.raises(httpx.HTTPError):
        httpx.get(plain)
    old = ssl.create_default_context(cafile=encrypted.folder / AUTHORITY)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", DeprecationWarning)  # it is old: that is the case
        old.minimum_version = ssl.TLSVersion.TLSv1
        old.maximum_version = ssl.TLSVersion.TLSv1_1
    with pytest.raises(httpx.ConnectError):
        httpx.get(f"{encrypted.address}/health/live", verify=old)


def test_a_killed_monitor_comes_back_with_who_was_signed_in(encrypted: Watched) -> None:
    """A session outlives a crash; signing out outlives the next."""
    with _visitor(encrypted) as client:
        _sign_in(client)
        cookies = dict(client.cookies)
    encrypted.kill()
    encrypted.start(ready=False)
    with _visitor(encrypted) as client:
        client.cookies.update(cookies)
        page = client.get("/help")
        assert page.status_code == 200
        key = page.text.partition('name="form_key" value="')[2].partition('"')[0]
        assert client.post("/sign-out", data={"form_key": key}).status_code == 303
    encrypted.kill()
    encrypted.start(ready=False)
    with _visitor(encrypted) as client:
        client.cookies.update(cookies)
        assert client.get("/help").status_code == 303


def test_a_password_set_beside_the_running_monitor_counts_at_once(
    encrypted: Watched, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The command needs no restart, and the old password opens nothing any more."""
    monkeypatch.setattr("sys.stdin", io.StringIO("another glove\n"))
    command = ["people", "password", "robin", "--stdin", "--farm", str(encrypted.folder)]
    assert main(command) == 0
    with _visitor(encrypted) as client:
        assert _sign_in(client).status_code == 403
        assert _sign_in(client, "another glove").status_code == 303


def test_no_secret_is_in_the_log(encrypted: Watched) -> None:
    """Neither password, session nor hash is written where the service's log goes."""
    with _visitor(encrypted) as client:
        _sign_in(client, "not the password")
        _sign_in(client)
        session = next(iter(client.cookies.values()))
    log = encrypted.log
    assert "robin has signed in" in log
    for secret in (PASSWORD, "not the password", session, "argon2id"):
        assert secret not in log


def test_a_phone_signs_in_without_scripts(encrypted: Watched) -> None:
    """By touch: asked for a page, sign in, come to it, and sign out."""
    ARTEFACTS.mkdir(exist_ok=True)
    with browser() as chrome:
        context = chrome.new_context(
            viewport={"width": 390, "height": 844}, has_touch=True, java_script_enabled=False,
            ignore_https_errors=True,
        )  # fmt: skip
        page = context.new_page()
        page.goto(f"{encrypted.address}/sensors")
        page.screenshot(path=ARTEFACTS / "sign-in-phone-light.png")
        page.get_by_label("Your name here").fill("Robin")
        page.get_by_label("Password").fill(PASSWORD)
        page.get_by_role("button", name="Sign in").tap()
        expect(page.get_by_text("Signed in as")).to_be_visible()
        assert page.url.endswith("/sensors")
        cookie = context.cookies()[0]
        assert (cookie["name"], cookie["secure"], cookie["httpOnly"]) == (
            "__Host-cormwatch", True, True,
        )  # fmt: skip
        page.get_by_role("button", name="Sign out").tap()
        expect(page.get_by_role("heading", name="Sign in")).to_be_visible()
        context.close()


def test_another_sites_form_does_nothing_in_a_real_browser(farm: Watched, tmp_path: Path) -> None:
    """A page from elsewhere that posts to the monitor with the phone's session is refused."""
    _pages(farm, 'sign_in = "always"')
    farm.start(ready=False)
    evil = tmp_path / "evil.html"
    evil.write_text(
        f'<form method="post" action="{farm.address}/account/out"><button>Win</button></form>',
        encoding="utf-8",
    )
    with browser() as chrome:
        context = phone(chrome)
        page = context.new_page()
        page.goto(f"{farm.address}/help")
        page.get_by_label("Your name here").fill("robin")
        page.get_by_label("Password").fill(PASSWORD)
        page.get_by_role("button", name="Sign in").tap()
        expect(page.get_by_text("Signed in as")).to_be_visible()
        page.goto(evil.as_uri())
        page.get_by_role("button", name="Win").tap()
        expect(page.get_by_text("a page from elsewhere may not act here")).to_be_visible()
        page.goto(f"{farm.address}/help")
        expect(page.get_by_text("Signed in as")).to_be_visible()
        context.close()


# -- nginx in front ----------------------------------------------------------------------

NGINX = """
daemon off;
pid {folder}/nginx.pid;
error_log {folder}/error.log;
worker_processes 1;
events {{ worker_connections 64; }}
http {{
  access_log off;
  client_body_temp_path {folder}/b; proxy_temp_path {folder}/p; fastcgi_temp_path {folder}/f;
  uwsgi_temp_path {folder}/u; scgi_temp_path {folder}/s;
  server {{ listen 127.0.0.1:{bare}; location / {{ proxy_pass {behind}; }} }}
  server {{ listen 127.0.0.1:{keeping}; location / {{
    proxy_pass {behind}; proxy_http_version 1.1; proxy_set_header Connection "";
    proxy_set_header X-Forwarded-For $proxy_add_x_forwarded_for; }} }}
  server {{ listen 127.0.0.1:{named}; location / {{
    proxy_pass {behind}; proxy_http_version 1.1; proxy_set_header Host barn.example;
    proxy_set_header Connection ""; }} }}
  server {{ listen 127.0.0.1:{silent}; location / {{
    proxy_pass {behind}; proxy_http_version 1.1; proxy_set_header Connection ""; }} }}
}}
"""
WAYS = ("bare", "keeping", "named", "silent")


def _nginx() -> str:
    found = shutil.which("nginx") or shutil.which("nginx", path="/usr/sbin")
    if found is None and os.environ.get("CI"):
        pytest.fail("nginx is missing: install it (apt-get install nginx-light)")
    if found is None:
        pytest.skip("nginx is not installed")
    return found


@contextlib.contextmanager
def _nginx_before(farm: Watched, folder: Path) -> Iterator[dict[str, str]]:
    """Run nginx before a monitor, and give its addresses by how it passes requests on."""
    program, ports = _nginx(), {each: free_port() for each in WAYS}
    folder.mkdir(mode=0o777)
    file = folder / "nginx.conf"
    text = NGINX.format(folder=folder, behind=farm.address, **ports)
    file.write_text(text, encoding="utf-8")
    process = subprocess.Popen(
        [program, "-p", str(folder), "-c", str(file)], stderr=subprocess.DEVNULL
    )
    found = {each: f"http://127.0.0.1:{port}" for each, port in ports.items()}
    try:
        wait_until(lambda: _answers(found["bare"]), 10)
        yield found
    finally:
        process.terminate()
        process.wait(10)


@pytest.fixture
def in_front(farm: Watched, tmp_path: Path) -> Iterator[dict[str, str]]:
    """Yield the addresses of nginx before a monitor whose farm's file names its own address."""
    _pages(farm, 'base_url = "https://barn.example"')
    farm.start(ready=False)
    with _nginx_before(farm, tmp_path / "nginx") as found:
        yield found


def _answers(address: str) -> bool:
    try:
        return httpx.get(f"{address}/health/live").status_code == 200
    except httpx.HTTPError:
        return False


@pytest.mark.parametrize("way", WAYS)
def test_what_nginx_passes_on_needs_a_sign_in(in_front: dict[str, str], way: str) -> None:
    """With headers or none, by the old or the new HTTP, a stranger behind it is a stranger."""
    for headers in ({}, {"x-forwarded-for": "127.0.0.1"}, {"x-real-ip": "127.0.0.1"}):
        answer = httpx.get(f"{in_front[way]}/alarms", headers=headers)
        assert (answer.status_code, answer.headers["location"]) == (303, "/sign-in?back=/alarms")
        assert httpx.get(f"{in_front[way]}/api/places", headers=headers).status_code == 401


def test_behind_nginx_with_tls_the_cookie_is_bound_to_it(in_front: dict[str, str]) -> None:
    """Where base_url says https, the session's cookie is Secure though we speak plain HTTP."""
    headers = {"origin": "https://barn.example"}
    with httpx.Client(base_url=in_front["named"], headers=headers) as client:
        cookie = _sign_in(client).headers["set-cookie"]
        assert cookie.startswith("__Host-cormwatch=")
        assert "; Secure" in cookie
        strict = client.get("/sign-in").headers["strict-transport-security"]
        assert strict == "max-age=31536000"


@pytest.mark.parametrize("way", ["bare", "keeping"])
def test_undeclared_nginx_is_known_by_how_it_speaks(
    farm: Watched, tmp_path: Path, way: str
) -> None:
    """Without a word in farm.toml a request is not local that came by HTTP/1.0 or with a header."""
    farm.start(ready=False)
    assert httpx.get(f"{farm.address}/").status_code == 200
    with _nginx_before(farm, tmp_path / "nginx") as found:
        assert httpx.get(f"{found[way]}/").status_code == 303
