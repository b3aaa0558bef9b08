"""A whole daemon attacked from outside: what it writes, says and answers; its secrets are known."""

import os
import re
import socket
import stat
import sys
import urllib.request
import zipfile
from collections.abc import Iterator
from dataclasses import dataclass
from http.client import HTTPConnection
from pathlib import Path
from typing import Final
from urllib.parse import urlencode

import paho.mqtt.client as mqtt
import pytest
from paho.mqtt.enums import CallbackAPIVersion

from monitor.access.accounts import accounts_of
from monitor.clock import SystemClock
from monitor.model import Link, LinkAction, Role
from tests.system.brokers import free_port, wait_until
from tests.system.daemons import Watched, cormwatch

pytestmark = pytest.mark.system
PASSWORD: Final = "wet glove 3am"  # noqa: S105 - a made-up one
WRONG: Final = "typed-by-mistake-9"
BY_ENV: Final = "json://127.0.0.1:9/hidden-by-env"
BY_FILE: Final = "json://127.0.0.1:9/hidden-by-file"
WRITTEN: Final = "json://127.0.0.1:9/written-out"
LINK: Final = "a-one-tap-link-of-this-test"
_OPEN_HANDED: Final = (
    "import os, sys; os.umask(0); from monitor.cli import main; "
    "sys.exit(main(['run', '--port', '0', '--farm', *sys.argv[1:]]))"
)


@dataclass
class Attacked:
    """A running farm, and every secret that somebody gave it or it made."""

    farm: Watched
    token: str
    session: str
    mqtt_port: int

    @property
    def door(self) -> tuple[str, int]:
        """Return where the pages answer."""
        host, port = self.farm.address.removeprefix("http://").split(":")
        return host, int(port)

    @property
    def secrets(self) -> list[str]:
        """Return what nothing may tell."""
        broker = (self.farm.folder / "data/embedded-broker.password").read_text("utf-8").strip()
        paths = [each.rpartition("/")[2] for each in (BY_ENV, BY_FILE)]
        return [PASSWORD, WRONG, LINK, self.token, self.session, broker, *paths]

    def raw(self, sent: bytes) -> bytes:
        """Send bytes, and return all that comes back until the other end closes."""
        with socket.create_connection(self.door, 20) as line:
            line.settimeout(40)
            try:
                line.sendall(sent)
                found = b""
                while part := line.recv(65_536):
                    found += part
            except (BrokenPipeError, ConnectionResetError):
                return found
        return found


def _people(folder: Path) -> None:
    file = folder / "people.toml"
    (folder / "secrets" / "phone").write_text(f"{BY_FILE}\n", encoding="utf-8")
    (folder / "secrets" / "phone").chmod(0o600)
    addresses = f'["env:DOOR_PHONE", "file:secrets/phone", "{WRITTEN}"]'
    text = file.read_text(encoding="utf-8").replace("addresses = []", f"addresses = {addresses}", 1)
    file.write_text(text, encoding="utf-8")


def _signed_in(door: tuple[str, int]) -> str:
    """Sign in once amiss and once right; return the session."""
    line = HTTPConnection(*door, timeout=20)
    line.request("GET", "/sign-in")
    page = line.getresponse().read().decode()
    key = page.partition('name="form_key" value="')[2].partition('"')[0]
    site = {"Origin": f"http://{door[0]}:{door[1]}"}
    form = site | {"Content-Type": "application/x-www-form-urlencoded"}
    for password in (WRONG, PASSWORD):
        sent = {"form_key": key, "name": "robin", "password": password}
        line.request("POST", "/sign-in", urlencode(sent), form)
        answer = line.getresponse()
        answer.read()
    cookie = next(each for each in answer.headers.get_all("Set-Cookie") or () if "=" in each)
    line.close()
    return cookie.partition("=")[2].partition(";")[0]


@pytest.fixture(scope="module")
def attacked(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Attacked]:
    """Return a farm that asks everybody to sign in, started by somebody who closes nothing."""
    folder, port = tmp_path_factory.mktemp("attacked") / "farm", free_port()
    assert cormwatch("init", str(folder), "--yes", "--embedded").returncode == 0
    farm_file = folder / "farm.toml"
    text = farm_file.read_text(encoding="utf-8").replace("port = 1883", f"port = {port}")
    text = re.sub(r"(\[pages\]\n)", r'\1sign_in = "always"\n', text, count=1)
    farm_file.write_text(text, encoding="utf-8")
    accounts = accounts_of(folder)
    token = accounts.new_token("robin", Role.HELP, 0)
    _people(folder)
    told = cormwatch(
        "people", "password", "robin", "--stdin", "--farm", str(folder), given=PASSWORD
    )
    assert told.returncode == 0, told.stderr
    farm = Watched(folder, {"DOOR_PHONE": BY_ENV}, ("-c", _OPEN_HANDED))
    farm.start()
    host, door = farm.address.removeprefix("http://").split(":")
    session = _signed_in((host, int(door)))
    with farm.ledger() as ledger:
        now_ms = SystemClock().now_ms()
        link = Link(None, None, "robin", LinkAction.WOKE, now_ms, now_ms + 3_600_000)
        ledger.add_link(LINK, link)
    yield Attacked(farm, token, session, port)
    farm.stop()


def test_every_file_is_its_owners_alone(attacked: Attacked) -> None:
    """Whatever the daemon makes is 0600, each folder 0700, though it was started with umask 0."""
    _used(attacked)
    folder = attacked.farm.folder
    modes = {
        str(each.relative_to(folder)): stat.S_IMODE(each.stat().st_mode)
        for each in folder.rglob("*")
    }
    assert {"data/ledger.db", "data/readings.db", "data/sessions.json"} <= set(modes)
    assert {name: oct(mode) for name, mode in modes.items() if mode & 0o077} == {}


def _used(attacked: Attacked) -> None:
    """Use a link, a token and a session, so that whatever tells of them has done so."""
    for path, header in (
        (f"/a/{LINK}", {}), ("/api/places", {"Authorization": f"Bearer {attacked.token}"}),
        ("/", {"Cookie": f"cormwatch={attacked.session}"}),
    ):  # fmt: skip
        asked = urllib.request.Request(f"{attacked.farm.address}{path}", headers=header)  # noqa: S310 - loopback
        with urllib.request.urlopen(asked, timeout=20) as answer:  # noqa: S310 - as above
            assert answer.status == 200
    told = cormwatch(
        "alarm", "drill", "--farm", str(attacked.farm.folder), environ={"DOOR_PHONE": BY_ENV}
    )
    assert "NOT SENT" in told.stdout + told.stderr  # nobody listens at port 9
    for secret in attacked.secrets:
        assert secret not in told.stdout + told.stderr


def test_no_secret_is_in_logs_data_or_the_list_of_processes(attacked: Attacked) -> None:
    """After a sign-in, a wrong one, a link, a token and a failed message, nothing tells of them."""
    _used(attacked)
    places = {"log": attacked.farm.log.encode()}
    data = attacked.farm.folder / "data"
    places |= {each.name: each.read_bytes() for each in data.iterdir() if "broker" not in each.name}
    places["accounts"] = (attacked.farm.folder / "secrets/accounts.json").read_bytes()
    if sys.platform == "linux":
        places["processes"] = Path(f"/proc/{attacked.farm.pid}/cmdline").read_bytes()
    for secret in attacked.secrets:
        assert [place for place, held in places.items() if secret.encode() in held] == []
    assert "robin has signed in" in attacked.farm.log


def test_a_backup_says_what_it_holds(attacked: Attacked, tmp_path: Path) -> None:
    """It names where a secret is written out, and holds that and no other."""
    copy = tmp_path / "copy.zip"
    told = cormwatch("backup", "--to", str(copy), "--farm", str(attacked.farm.folder))
    assert "SECRETS stand written out" in told.stdout
    assert "people.toml person[1].addresses[3]" in told.stdout
    with zipfile.ZipFile(copy) as archive:
        held = b"".join(archive.read(each) for each in archive.namelist())
    assert WRITTEN.encode() in held
    stored = accounts_of(attacked.farm.folder).of("robin").password or "none"
    for secret in (*attacked.secrets, stored):
        assert secret.encode() not in held


def test_the_embedded_broker_lets_no_outsider_in(attacked: Attacked) -> None:
    """Without user and password, or with another, nobody is connected."""
    codes: list[str] = []
    for user in (None, "cormwatch"):
        client = mqtt.Client(CallbackAPIVersion.VERSION2, protocol=mqtt.MQTTv311)
        client.username_pw_set(user, None if user is None else "guess")
        client.on_connect = lambda _c, _d, _f, code, _p: codes.append(str(code))
        before = len(codes)
        client.connect("127.0.0.1", attacked.mqtt_port)
        client.loop_start()
        wait_until(lambda before=before: len(codes) > before)  # type: ignore[misc]
        client.loop_stop()
    assert "Success" not in codes


_HOST: Final = b"Host: 127.0.0.1:8484\r\n"
_END: Final = b"Connection: close\r\n\r\n"
ODD: Final = {
    "two lengths": b"POST /sign-in HTTP/1.1\r\n" + _HOST + b"Content-Length: 4\r\n"
    b"Transfer-Encoding: chunked\r\n\r\n0\r\n\r\nGET /sign-in HTTP/1.1\r\n" + _HOST + _END,
    "a foreign host": b"GET /sign-in HTTP/1.1\r\nHost: elsewhere.example\r\n" + _END,
    "no host": b"GET / HTTP/1.0\r\n\r\n",
    "a huge cookie": b"GET / HTTP/1.1\r\n"
    + _HOST
    + b"Cookie: a="
    + b"x" * 300_000
    + b"\r\n"
    + _END,
    "an odd cookie": b"GET / HTTP/1.1\r\n" + _HOST + b'Cookie: cormwatch=\xff"\\; =;;\r\n' + _END,
    "a huge body": b"POST /sign-in HTTP/1.1\r\n" + _HOST + b"Content-Length: 99999999\r\n" + _END,
    "a huge body in pieces": b"POST /sign-in HTTP/1.1\r\n"
    + _HOST
    + b"Transfer-Encoding: chunked\r\n"
    + _END
    + (b"1000\r\n" + b"x" * 4096 + b"\r\n") * 40
    + b"0\r\n\r\n",
    "a header put in": b"GET /sign-in?back=%0d%0aSet-Cookie:a=b HTTP/1.1\r\n" + _HOST + _END,
    "a path that climbs": b"GET /static/..%2f..%2fsecrets/accounts.json HTTP/1.1\r\n"
    + _HOST
    + _END,
    "a form that is none": b"POST /sign-in HTTP/1.1\r\n" + _HOST + b"Content-Length: 3\r\n"
    b"Content-Type: multipart/form-data; boundary=\xff\r\n" + _END + b"abc",
    "a socket of the web": b"GET / HTTP/1.1\r\n" + _HOST + b"Upgrade: websocket\r\n"
    b"Connection: Upgrade\r\nSec-WebSocket-Key: x\r\n\r\nGET / HTTP/1.1\r\n" + _HOST + _END,
    "a made-up token": b"GET /api/places HTTP/1.1\r\n"
    + _HOST
    + b"Authorization: Bearer \xff\xfe\r\n"
    + _END,
}


@pytest.mark.parametrize("what", list(ODD))
def test_what_is_odd_is_answered_and_nothing_breaks(attacked: Attacked, what: str) -> None:
    """Each is refused or led to the sign-in: no defect, no file, no header of a stranger's."""
    sent = ODD[what].replace(b"127.0.0.1:8484", f"127.0.0.1:{attacked.door[1]}".encode())
    told = attacked.raw(sent)
    heads = re.findall(rb"HTTP/1\.1 (\d{3})", told)
    assert heads or what == "a huge cookie"  # it may be cut off before it is told why
    assert not [each for each in heads if each >= b"500"]
    assert b"argon2" not in told
    assert b"\r\nSet-Cookie:a=b" not in told
    if what == "two lengths":
        assert heads == [b"400"]  # what stands behind is no request (RFC 9112, 6.1 and 6.3)
    with urllib.request.urlopen(f"{attacked.farm.address}/health/live", timeout=20) as answer:  # noqa: S310 - loopback
        assert answer.status == 200
    assert "Traceback" not in attacked.farm.log
    assert os.strerror(24) not in attacked.farm.log
