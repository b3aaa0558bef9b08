"""Certificates of the farm's own: taken by a strict client, for these names, for so long."""

import socket
import ssl
import stat
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import ClassVar, Self

import pytest
from cryptography import x509

from monitor.access.authority import AUTHORITY, AUTHORITY_KEY, CERTIFICATE, KEY, ending, ends_at
from monitor.access.certificate import AUTHORITY_DAYS, HOST_DAYS, make, own_names
from monitor.errors import FarmError

NAMES = ["localhost", "127.0.0.1", "::1", "barn.local", "192.168.7.2"]


def _now() -> datetime:
    return datetime.now(UTC).replace(microsecond=0)


def shake_hands(folder: Path, name: str, trusted: Path) -> None:
    """Let a client that checks all meet a server, both in memory (OpenSSL by ``ssl``)."""
    server = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    server.load_cert_chain(folder / CERTIFICATE, folder / KEY)
    client = ssl.create_default_context(cafile=trusted)
    client.verify_flags |= ssl.VerifyFlags.VERIFY_X509_STRICT
    to_server, to_client = ssl.MemoryBIO(), ssl.MemoryBIO()
    one = client.wrap_bio(to_client, to_server, server_hostname=name)
    other = server.wrap_bio(to_server, to_client, server_side=True)
    for _ in range(3):
        for end in (one, other):
            try:
                end.do_handshake()
            except ssl.SSLWantReadError:
                continue
    assert one.version() == "TLSv1.3"


@pytest.mark.parametrize("name", NAMES)
def test_a_client_that_trusts_the_authority_takes_each_name(tmp_path: Path, name: str) -> None:
    """OpenSSL, strict, finds chain, name constraints, name and days in order."""
    make(tmp_path, NAMES, _now())
    shake_hands(tmp_path, name, tmp_path / AUTHORITY)


def test_another_name_is_refused(tmp_path: Path) -> None:
    """The certificate stands for the names it was made for."""
    make(tmp_path, NAMES, _now())
    with pytest.raises(ssl.SSLCertVerificationError, match="mismatch"):
        shake_hands(tmp_path, "shed.local", tmp_path / AUTHORITY)


def test_the_authority_cannot_pose_as_other_sites(tmp_path: Path) -> None:
    """With its key in a thief's hands a certificate for another site is still not taken."""
    make(tmp_path, NAMES, _now())
    with pytest.raises(FarmError, match="may not speak for bank"):
        make(tmp_path, ["bank.example"], _now())
    with pytest.MonkeyPatch.context() as thief:
        thief.setattr("monitor.access.certificate._refuse_foreign", lambda *_: None)
        make(tmp_path, ["bank.example"], _now())
    with pytest.raises(ssl.SSLCertVerificationError, match="permitted subtree violation"):
        shake_hands(tmp_path, "bank.example", tmp_path / AUTHORITY)


def test_renewing_asks_no_phone_again(tmp_path: Path) -> None:
    """A new certificate comes from the same authority; a new authority only when asked."""
    first = make(tmp_path, NAMES, _now())
    trusted = tmp_path / "as-the-phone-has-it.crt"
    trusted.write_bytes((tmp_path / AUTHORITY).read_bytes())
    before = (tmp_path / CERTIFICATE).read_bytes()
    second = make(tmp_path, [*NAMES, "shed.local"], _now())
    assert (first.new_authority, second.new_authority) == (True, False)
    assert first.fingerprint == second.fingerprint
    assert (tmp_path / CERTIFICATE).read_bytes() != before
    shake_hands(tmp_path, "shed.local", trusted)
    third = make(tmp_path, NAMES, _now(), anew=True)
    assert third.new_authority
    with pytest.raises(ssl.SSLCertVerificationError):
        shake_hands(tmp_path, "barn.local", trusted)


def test_keys_are_for_their_owner_only(tmp_path: Path) -> None:
    """Nobody else on the computer can read them."""
    make(tmp_path, NAMES, _now())
    for file in (AUTHORITY_KEY, KEY):
        assert stat.S_IMODE((tmp_path / file).stat().st_mode) == 0o600


def test_when_it_ends_is_read_without_the_large_library(tmp_path: Path) -> None:
    """Our reading of the end is that of ``cryptography``, and under 825 days away."""
    made = make(tmp_path, NAMES, _now())
    held = x509.load_pem_x509_certificate((tmp_path / CERTIFICATE).read_bytes())
    assert ends_at(tmp_path / CERTIFICATE) == held.not_valid_after_utc == made.ends
    assert held.not_valid_after_utc - held.not_valid_before_utc < timedelta(days=825)
    assert ends_at(tmp_path / KEY) is None


def test_its_end_is_found_behind_a_key(tmp_path: Path) -> None:
    """One file may hold the key first, then the certificate, with words between (RFC 7468)."""
    made = make(tmp_path, NAMES, _now())
    both = tmp_path / "both.pem"
    parts = [(tmp_path / each).read_text(encoding="ascii") for each in (KEY, CERTIFICATE)]
    both.write_text(f"{parts[0]}of Zoë's barn\n{parts[1]}", encoding="utf-8")
    assert ends_at(both) == made.ends


def test_an_authority_that_has_ended_by_then_is_made_anew(tmp_path: Path) -> None:
    """What counts is the time that was given, a day before its end and a day after."""
    make(tmp_path, NAMES, _now())
    day = timedelta(days=1)
    assert not make(tmp_path, NAMES, _now() + AUTHORITY_DAYS * day - day).new_authority
    assert make(tmp_path, NAMES, _now() + AUTHORITY_DAYS * day + day).new_authority


def test_its_end_is_told_a_month_before(tmp_path: Path) -> None:
    """Thirty days before the end and after it the first page says what to do."""
    now = _now()
    make(tmp_path, NAMES, now)
    file = tmp_path / CERTIFICATE
    assert ending(file, now) == ending(None, now) == ""
    assert ending(file, now + timedelta(days=HOST_DAYS - 31)) == ""
    assert "ends on" in ending(file, now + timedelta(days=HOST_DAYS - 29))
    assert "has ended" in ending(file, now + timedelta(days=HOST_DAYS + 1))


@pytest.mark.parametrize("name", ["", "barn local", "bär.local", "a/b"])
def test_what_is_no_name_is_refused(tmp_path: Path, name: str) -> None:
    """Nothing is written for a name that no host can have."""
    with pytest.raises(FarmError, match="no host name"):
        make(tmp_path, [name], _now())
    assert not (tmp_path / "secrets").exists()


def test_this_computers_names_are_found() -> None:
    """The loopback and the computer's own name are always among them."""
    found = own_names()
    assert {"localhost", "127.0.0.1", "::1"} <= set(found)
    assert any(each.endswith(".local") for each in found)


def test_a_computer_called_with_an_underscore_gets_its_certificate(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """``farm_pi`` is no host name by RFC 1123, section 2.1, and many a computer's all the same."""
    monkeypatch.setattr(socket, "gethostname", lambda: "farm_pi")
    made = make(tmp_path, own_names(), _now())
    assert "farm_pi.local" in made.names
    shake_hands(tmp_path, "farm_pi.local", tmp_path / AUTHORITY)


@pytest.mark.parametrize("name", ["büro", "my farm", ""])
def test_a_name_that_no_host_can_have_is_not_guessed(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, name: str
) -> None:
    """A certificate is made without it."""
    monkeypatch.setattr(socket, "gethostname", lambda: name)
    assert "localhost" in make(tmp_path, own_names(), _now()).names


class _Road:
    """Stands for a socket on a computer whose roads begin at these addresses."""

    own: ClassVar = {socket.AF_INET: "192.168.7.2", socket.AF_INET6: ""}

    def __init__(self, family: socket.AddressFamily, _kind: object) -> None:
        self._own = self.own[family]

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        pass

    def connect(self, _far: object) -> None:
        """Find no road where there is no address."""
        if not self._own:
            raise OSError

    def getsockname(self) -> tuple[str, int]:
        """Return the address."""
        return self._own, 1


@pytest.mark.parametrize(
    ("six", "named"),
    [("2001:db8:1::7", False), ("fd00:1::7", True), ("fe80::7%eth0", True), ("", False)],
)
def test_a_line_that_changes_its_public_address_does_not_keep_a_renewal_back(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, six: str, *, named: bool
) -> None:
    """Only an address of RFC 1918, 3927, 4193 or 4291's local scope is guessed."""
    monkeypatch.setattr(socket, "socket", _Road)
    monkeypatch.setitem(_Road.own, socket.AF_INET6, six)
    first = make(tmp_path, own_names(), _now())
    assert (six.partition("%")[0] in first.names) is named
    assert "192.168.7.2" in first.names
    monkeypatch.setitem(_Road.own, socket.AF_INET6, "2001:db8:2::9")
    assert not make(tmp_path, own_names(), _now()).new_authority
