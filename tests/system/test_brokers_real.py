"""Ways to a broker: certificates, passwords, the shipped configuration, our own broker."""

import logging
import re
import socket
import subprocess
import time
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest
from paho.mqtt.client import Client
from paho.mqtt.enums import CallbackAPIVersion

from monitor.errors import BrokerError
from monitor.mqtt.client import LARGEST_PACKET
from monitor.mqtt.embedded import EmbeddedBroker
from monitor.mqtt.settings import Protocol, SessionSettings, TlsFiles
from monitor.mqtt.status import EventKind
from tests.system.brokers import Mosquitto, free_port, publish, wait_until
from tests.system.test_session_real import Heard, acknowledge_all, hearing, settings

pytestmark = pytest.mark.system
SHIPPED = Path(__file__).resolve().parents[2] / "config" / "mosquitto.conf"


# -- certificates ----------------------------------------------------------------------


def openssl(folder: Path, *words: str) -> None:
    """Run openssl in a folder."""
    subprocess.run(["openssl", *words], cwd=folder, check=True, capture_output=True)


def certificate(folder: Path, name: str, ca: str, extra: str) -> None:
    """Make a key and a certificate signed by an authority."""
    (folder / f"{name}.ext").write_text(extra)
    openssl(
        folder, "req", "-newkey", "rsa:2048", "-nodes", "-keyout", f"{name}.key",
        "-out", f"{name}.csr", "-subj", f"/CN={name}",
    )  # fmt: skip
    openssl(
        folder, "x509", "-req", "-in", f"{name}.csr", "-CA", f"{ca}.crt", "-CAkey", f"{ca}.key",
        "-CAcreateserial", "-out", f"{name}.crt", "-days", "2", "-extfile", f"{name}.ext",
    )  # fmt: skip


@pytest.fixture(scope="module")
def papers(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a folder with two authorities, a server's and a client's certificate."""
    folder = tmp_path_factory.mktemp("papers")
    for name in ("ca", "stranger"):
        openssl(
            folder, "req", "-x509", "-newkey", "rsa:2048", "-nodes", "-keyout", f"{name}.key",
            "-out", f"{name}.crt", "-days", "2", "-subj", f"/CN={name}",
        )  # fmt: skip
    certificate(folder, "server", "ca", "subjectAltName=IP:127.0.0.1\n")
    certificate(folder, "elsewhere", "ca", "subjectAltName=DNS:elsewhere.example\n")
    certificate(folder, "client", "ca", "extendedKeyUsage=clientAuth\n")
    return folder


def secured(tmp_path: Path, papers: Path, server: str) -> Mosquitto:
    """Return a broker that shows a certificate and asks for one."""
    return Mosquitto(
        tmp_path,
        extra=f"allow_anonymous true\ncafile {papers}/ca.crt\ncertfile {papers}/{server}.crt\n"
        f"keyfile {papers}/{server}.key\nrequire_certificate true\n",
    )


def with_papers(broker: Mosquitto, papers: Path, ca: str = "ca") -> SessionSettings:
    """Return settings that trust an authority and show the client's certificate."""
    files = TlsFiles(papers / f"{ca}.crt", papers / "client.crt", papers / "client.key")
    return replace(settings(broker), tls=files)


def test_certificates_of_both_sides_let_us_in(tmp_path: Path, papers: Path) -> None:
    """With the right authority and a client certificate readings come, in long runs too."""
    broker = secured(tmp_path, papers, "server").start()
    with hearing(with_papers(broker, papers)) as heard:
        publish_securely(broker.port, papers)
        assert [m.payload for m in heard.until(500)] == [b"%d" % n for n in range(500)]
        heard.answer()
    broker.stop()


def publish_securely(port: int, papers: Path) -> None:
    """Publish with certificates from a client of our own."""
    client = Client(CallbackAPIVersion.VERSION2)
    client.max_queued_messages_set(0)
    client.tls_set(f"{papers}/ca.crt", f"{papers}/client.crt", f"{papers}/client.key")
    client.connect("127.0.0.1", port)
    client.loop_start()
    for sent in [client.publish("shed/t", b"%d" % n, 1) for n in range(500)]:
        sent.wait_for_publish(30)
    client.disconnect()
    client.loop_stop()


# paho leaves the socket of a failed handshake to the collector, which closes it at once.
@pytest.mark.filterwarnings("ignore::pytest.PytestUnraisableExceptionWarning")
@pytest.mark.parametrize(("server", "ca"), [("elsewhere", "ca"), ("server", "stranger")])
def test_a_wrong_host_or_authority_is_refused(
    tmp_path: Path, papers: Path, server: str, ca: str
) -> None:
    """A certificate of another host, or of an unknown authority, is not believed."""
    broker = secured(tmp_path, papers, server).start()
    with hearing(with_papers(broker, papers, ca), ready=False) as heard:
        wait_until(lambda: "certificate" in heard.session.status().problem)
        assert not heard.session.status().connected
    broker.stop()


def test_the_host_check_can_be_given_up(tmp_path: Path, papers: Path) -> None:
    """A farm whose broker has another name may say so."""
    broker = secured(tmp_path, papers, "elsewhere").start()
    how = with_papers(broker, papers)
    files = how.tls
    assert files is not None
    with hearing(replace(how, tls=replace(files, check_host=False))) as heard:
        assert heard.session.status().connected
    broker.stop()


def test_files_that_are_no_certificates_are_named(tmp_path: Path) -> None:
    """A missing or unreadable certificate is told at once, by its name."""
    (tmp_path / "ca.crt").write_text("no certificate")
    for name in ("ca.crt", "missing.crt"):
        files = TlsFiles(tmp_path / name)
        with pytest.raises(BrokerError, match=name):
            Heard(SessionSettings("127.0.0.1", 1, "farm", tls=files))


# -- the shipped configuration ---------------------------------------------------------


# What Debian 12's package of mosquitto 2.0.11 puts into /etc/mosquitto/mosquitto.conf.
DEBIAN = """\
pid_file {folder}/mosquitto.pid

persistence true
persistence_location {folder}/

log_dest file {folder}/mosquitto.log

include_dir {folder}/conf.d
"""


def moved(folder: Path, port: int) -> str:
    """Return the shipped configuration with its port and its password file moved."""
    passwords = folder / "passwords"
    passwords.write_text("farm:chives-and-chalk\n")
    subprocess.run(["mosquitto_passwd", "-U", str(passwords)], check=True, capture_output=True)
    text = SHIPPED.read_text()
    for pattern, instead in (
        (r"^listener .*$", f"listener {port} 127.0.0.1"),
        (r"^password_file .*$", f"password_file {passwords}"),
    ):
        text, found = re.subn(pattern, instead, text, flags=re.MULTILINE)
        assert found == 1, pattern
    return text


def alone(folder: Path) -> Mosquitto:
    """Return mosquitto under the shipped configuration alone, its resting line woken."""
    port, resting = free_port(), r"^# (persistence_location) .*$"
    text, found = re.subn(resting, rf"\1 {folder}/", moved(folder, port), flags=re.MULTILINE)
    assert found == 1
    return Mosquitto(folder, port=port, text=text)


def beside_debians(folder: Path) -> Mosquitto:
    """Return mosquitto as Debian starts it, the shipped configuration in its conf.d."""
    port, included = free_port(), folder / "conf.d"
    included.mkdir()
    (included / "cormwatch.conf").write_text(moved(folder, port))
    return Mosquitto(folder, port=port, text=DEBIAN.format(folder=folder))


@pytest.fixture(params=[alone, beside_debians])
def shipped(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[Mosquitto]:
    """Yield mosquitto under the shipped configuration, alone and as Debian reads it."""
    broker: Mosquitto = request.param(tmp_path).start()
    yield broker
    broker.stop()


def signed_in(broker: Mosquitto, password: str = "chives-and-chalk") -> SessionSettings:  # noqa: S107
    """Return settings with the user of the shipped configuration's test."""
    return replace(settings(broker), user="farm", password=password)


@pytest.mark.parametrize("how", ["anonymous", "wrong"])
def test_the_shipped_configuration_lets_nobody_in_without_the_password(
    shipped: Mosquitto, how: str
) -> None:
    """No anonymous client, no wrong password, and the password is never shown."""
    tried = settings(shipped) if how == "anonymous" else signed_in(shipped, "swordfish")
    with hearing(tried, ready=False) as heard:
        wait_until(lambda: heard.told(EventKind.REFUSED) != [])
        assert "user and password" in heard.told(EventKind.REFUSED)[0]
        assert "swordfish" not in str(heard.events)


def test_the_shipped_configuration_keeps_what_comes_while_we_are_away(shipped: Mosquitto) -> None:
    """More than a default broker's 1,000 messages wait for us, over its restart too."""
    with hearing(signed_in(shipped)):
        pass
    sent = [("shed/t", b"%d" % n) for n in range(3000)]
    publish(shipped.port, sent, user="farm", password="chives-and-chalk")  # noqa: S106
    shipped.stop()
    shipped.start()
    with hearing(signed_in(shipped), ready=False) as heard:
        seen: list[bytes] = []
        while len(seen) < len(sent):
            wait_until(lambda: heard.session.status().waiting > 0)
            some = heard.session.take(500)
            heard.session.ack(some)
            seen += [m.payload for m in some if not heard.session.is_own(m.topic)]
        assert seen == [payload for _, payload in sent]
        assert heard.session.status().resumed


def test_a_broker_sends_us_nothing_larger(tmp_path: Path) -> None:
    """What is over 2 MiB stays with a broker of MQTT 5 that takes anything; the next one comes."""
    broker = Mosquitto(tmp_path).start()
    with hearing(settings(broker)) as heard:
        publish(broker.port, [("shed/t", b"x" * (LARGEST_PACKET + 1)), ("shed/t", b"4.1")])
        heard.until(1)
        assert [each.payload for each in heard.take()] == [b"4.1"]
        assert heard.session.status().connected
        heard.answer()
    broker.stop()


# -- the embedded broker ---------------------------------------------------------------


@pytest.fixture
def embedded() -> Iterator[EmbeddedBroker]:
    """Yield a running embedded broker."""
    broker = EmbeddedBroker()
    broker.start()
    yield broker
    broker.stop()


def to_embedded(broker: EmbeddedBroker) -> SessionSettings:
    """Return settings for the embedded broker."""
    return SessionSettings(
        "127.0.0.1", broker.port, "farm", protocol=Protocol.V311, user=broker.user,
        password=broker.password, trust_retained=False, first_wait_s=0.05, longest_wait_s=0.2,
    )  # fmt: skip


def test_the_embedded_broker_carries_readings(embedded: EmbeddedBroker) -> None:
    """What is published after the fence is heard as fresh, and acknowledged."""
    with hearing(to_embedded(embedded)) as heard:
        sent = [("shed/t", b"%d" % n) for n in range(300)]
        publish(
            embedded.port, sent, user=embedded.user, password=embedded.password,
            before_leaving=lambda: heard.until(300),
        )  # fmt: skip
        got = heard.take()
        assert sorted(int(m.payload) for m in got) == list(range(300))
        assert not any(m.queued or m.retained for m in got)
        heard.answer()


def test_the_embedded_broker_queues_for_us_without_the_retained_flag(
    embedded: EmbeddedBroker,
) -> None:
    """It flags as retained whatever it had queued: before the fence that is not believed."""
    with hearing(to_embedded(embedded)):
        pass
    publish(embedded.port, [("shed/t", b"4.1")], user=embedded.user, password=embedded.password)
    with hearing(to_embedded(embedded), ready=False) as heard:
        # It does not take our subscription before all that it had queued is acknowledged.
        acknowledge_all(heard, lambda: heard.session.status().past_fence)
        (queued,) = heard.take()
        assert queued.queued
        assert not queued.retained
        assert heard.session.status().resumed


def test_the_embedded_broker_lets_nobody_in_unsigned(embedded: EmbeddedBroker) -> None:
    """Neither an anonymous client nor a wrong password gets in, even on the loopback."""
    for how in (
        replace(to_embedded(embedded), user=None, password=None),
        replace(to_embedded(embedded), password="swordfish"),  # noqa: S106
    ):
        with hearing(how, ready=False) as heard:
            wait_until(lambda heard=heard: heard.told(EventKind.REFUSED) != [])  # type: ignore[misc]
            assert not heard.session.status().connected


def test_the_embedded_broker_starts_and_stops_quickly_and_leaves_its_port() -> None:
    """Within two seconds each, twice in a row, on one port, saying nothing."""
    port = free_port()
    for _ in range(2):
        broker = EmbeddedBroker(port)
        begun_s = time.monotonic()
        assert broker.start() == port
        with hearing(to_embedded(broker)):
            ended_s = time.monotonic()
            broker.stop()
        assert max(ended_s - begun_s, time.monotonic() - ended_s) < 2.0
        assert not broker.alive


def test_a_taken_port_is_named() -> None:
    """Where another broker stands on the port, the message says which and what to do."""
    with socket.create_server(("127.0.0.1", 0)) as other:
        port = other.getsockname()[1]
        with pytest.raises(BrokerError, match=f"port {port} .* another"):
            EmbeddedBroker(port).start()


def test_the_embedded_broker_refuses_what_nobody_takes() -> None:
    """Its backlog is bounded: beyond it publications are refused and counted."""
    broker = EmbeddedBroker(backlog=50)
    broker.start()
    try:
        with hearing(to_embedded(broker)):
            pass
        sent = [("shed/t", b"%d" % n) for n in range(120)]
        publish(
            broker.port, sent, user=broker.user, password=broker.password,
            before_leaving=lambda: wait_until(lambda: broker.refused() >= 70),
        )  # fmt: skip
        refused = broker.refused()
        with hearing(to_embedded(broker), ready=False) as heard:
            acknowledge_all(heard, lambda: heard.session.status().past_fence)
            kept = [m.payload for m in heard.take()]
            assert kept == [b"%d" % n for n in range(len(kept))]
            assert len(kept) + refused == len(sent)
    finally:
        broker.stop()


def test_the_embedded_broker_is_quiet(
    embedded: EmbeddedBroker, caplog: pytest.LogCaptureFixture
) -> None:
    """Its own chatter and passwords stay out of the log."""
    with caplog.at_level(logging.INFO), hearing(to_embedded(embedded)):
        pass
    assert embedded.password not in caplog.text
    assert embedded.password not in repr(embedded)
    assert "amqtt" not in caplog.text
