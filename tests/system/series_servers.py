"""Real time-series servers on free ports of the loopback, started and ended by the tests."""

import json
import os
import shutil
import signal
import subprocess
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any
from urllib.error import HTTPError, URLError
from urllib.parse import urlencode
from urllib.request import Request, urlopen

import pytest

from tests.system.brokers import free_port, wait_until

ROOT = Path(__file__).resolve().parents[2]
_INFLUX = """\
reporting-disabled = true
bind-address = "127.0.0.1:{rpc}"
[meta]
dir = "{folder}/meta"
[data]
dir = "{folder}/data"
wal-dir = "{folder}/wal"
[http]
bind-address = "127.0.0.1:{port}"
log-enabled = false
[monitor]
store-enabled = false
"""
_NGINX = """\
{user}daemon off;
pid {folder}/nginx.pid;
error_log {folder}/nginx.log;
events {{ worker_connections 64; }}
http {{
    access_log off;
    client_body_temp_path {folder}/body;
    proxy_temp_path {folder}/proxy;
    fastcgi_temp_path {folder}/fastcgi;
    uwsgi_temp_path {folder}/uwsgi;
    scgi_temp_path {folder}/scgi;
    {server}
}}
"""


def program(name: str, package: str) -> str:
    """Return a server's path; without it the test is skipped, or fails where CI is set."""
    found = shutil.which(name, path=f"{os.environ.get('PATH', '')}:/usr/sbin")
    if found is not None:
        return found
    if os.environ.get("CI"):
        pytest.fail(f"{name} is not installed: apt install {package}")
    pytest.skip(f"{name} is not installed")


@dataclass
class Process:
    """A server's process, which may be stopped, killed and started again."""

    folder: Path
    words: list[str] = field(default_factory=list)

    def __post_init__(self) -> None:
        self._process: subprocess.Popen[bytes] | None = None

    def begin(self, *words: str) -> None:
        """Start the program."""
        self.words = list(words) or self.words
        with (self.folder / "log").open("ab") as log:
            self._process = subprocess.Popen(self.words, stdout=log, stderr=log)

    def check_alive(self) -> None:
        """Fail where it has ended by itself."""
        if self._process is None or self._process.poll() is not None:
            text = (self.folder / "log").read_text(errors="replace")
            pytest.fail(f"{self.words[0]} ended: {text[-2000:]}")

    def tell(self, how: signal.Signals) -> None:
        """Send it a signal."""
        if self._process is not None:
            self._process.send_signal(how)

    def end(self, how: signal.Signals = signal.SIGTERM) -> None:
        """End it and wait."""
        if self._process is not None:
            self.tell(how)
            self._process.wait(20)
            self._process = None


def code(address: str) -> int:
    """Return the code that an address answers with, 0 where nothing answers."""
    try:
        with urlopen(address, timeout=2) as answer:  # noqa: S310 - our own address
            return int(answer.status)
    except HTTPError as failure:
        failure.close()
        return failure.code
    except (URLError, OSError):
        return 0


def up_at(address: str) -> bool:
    """Return whether something answers there, whatever it says."""
    return code(address) != 0


class Influx:
    """InfluxDB 1.6 behind nginx with the shipped configuration, at ports of their own."""

    def __init__(self, folder: Path) -> None:
        self._influxd = program("influxd", "influxdb")
        self._nginx = program("nginx", "nginx-light")
        self.port, self._rpc, self.front = free_port(), free_port(), free_port()
        self._database = Process(_made(folder / "influx"))
        self._proxy = Process(_made(folder / "nginx"))
        self._front_is(503)

    @property
    def url(self) -> str:
        """Return the address that the mirror writes to."""
        return f"http://127.0.0.1:{self.front}"

    def _front_is(self, status: int | None) -> None:
        """Write nginx's configuration: the shipped one, or an answer of this code."""
        shipped = (ROOT / "config" / "mirror-nginx.conf").read_text(encoding="utf-8")
        server = shipped.replace(":8087", f":{self.front}").replace(":8086", f":{self.port}")
        if status is not None:
            server = f"server {{ listen 127.0.0.1:{self.front}; return {status}; }}"
        user = "user root;\n" if os.geteuid() == 0 else ""
        text = _NGINX.format(user=user, folder=self._proxy.folder, server=server)
        (self._proxy.folder / "nginx.conf").write_text(text, encoding="utf-8")

    def start(self) -> "Influx":
        """Start both, and make the database."""
        text = _INFLUX.format(rpc=self._rpc, port=self.port, folder=self._database.folder)
        file = self._database.folder / "influxdb.conf"
        file.write_text(text, encoding="utf-8")
        self._front_is(None)
        self.start_database()
        self._proxy.begin(
            self._nginx, "-p", str(self._proxy.folder), "-e", str(self._proxy.folder / "nginx.log"),
            "-c", str(self._proxy.folder / "nginx.conf"),
        )  # fmt: skip
        wait_until(lambda: up_at(self.url))
        self.ask("CREATE DATABASE farms")
        return self

    def start_database(self) -> None:
        """Start InfluxDB itself and wait until it answers."""
        self._database.begin(
            self._influxd, "run", "-config", str(self._database.folder / "influxdb.conf")
        )

        def up() -> bool:
            self._database.check_alive()
            return up_at(f"http://127.0.0.1:{self.port}/ping")

        wait_until(up)

    def stop_database(self) -> None:
        """End InfluxDB as the service manager does; nginx then answers 502."""
        self._database.end()

    def kill_database(self) -> None:
        """End InfluxDB as a power cut does."""
        self._database.end(signal.SIGKILL)

    def stop_front(self) -> None:
        """End nginx: connections are refused."""
        self._proxy.end()

    def start_front(self) -> None:
        """Start nginx again."""
        self._proxy.begin()
        wait_until(lambda: up_at(self.url))

    def close_front(self, status: int | None) -> None:
        """Answer everything with a code, or with None serve again."""
        self._proxy.end()
        self._front_is(status)
        self.start_front()

    def stop(self) -> None:
        """End both."""
        self._proxy.end()
        self._database.end()

    def ask(self, text: str, database: str = "farms") -> list[dict[str, Any]]:
        """Return the series that InfluxDB itself answers a query with."""
        body = urlencode({"db": database, "q": text, "epoch": "ms"}).encode()
        with urlopen(Request(f"http://127.0.0.1:{self.port}/query", body), timeout=30) as answer:
            (result,) = json.loads(answer.read())["results"]
        if "error" in result:
            pytest.fail(f"{text}: {result['error']}")
        found: list[dict[str, Any]] = result.get("series", [])
        return found

    def write(self, *lines: str) -> None:
        """Write lines to InfluxDB itself, past the proxy."""
        body = "\n".join(lines).encode()
        request = Request(f"http://127.0.0.1:{self.port}/write?db=farms&precision=ms", body)
        with urlopen(request, timeout=10):  # noqa: S310
            pass

    def count(self, field: str, measurement: str = "cormwatch") -> int:
        """Return how many points have a field."""
        found = self.ask(f'SELECT count("{field}") FROM "{measurement}"')
        return int(found[0]["values"][0][1]) if found else 0


class Victoria:
    """victoria-metrics, which takes the newer address as it is."""

    def __init__(self, folder: Path) -> None:
        self._program = program("victoria-metrics", "victoria-metrics")
        self.port = free_port()
        self._process = Process(_made(folder / "victoria"))

    @property
    def url(self) -> str:
        """Return the address that the mirror writes to."""
        return f"http://127.0.0.1:{self.port}"

    def start(self) -> "Victoria":
        """Start it and wait until it answers; the same point twice is one point there."""
        self._process.begin(
            self._program, f"-httpListenAddr=127.0.0.1:{self.port}", "-retentionPeriod=10y",
            f"-storageDataPath={self._process.folder}", "-dedup.minScrapeInterval=1ms",
            "-loggerLevel=ERROR",
        )  # fmt: skip

        def up() -> bool:
            self._process.check_alive()
            return up_at(f"{self.url}/health")

        wait_until(up)
        return self

    def stop(self) -> None:
        """End it as the service manager does."""
        self._process.end()

    def points(self, name: str, **labels: str) -> dict[int, float]:
        """Return each value of a series' name by its time [ms]."""
        with urlopen(f"{self.url}/internal/force_flush", timeout=10):  # noqa: S310
            pass
        match = ",".join(f'{key}="{value}"' for key, value in labels.items())
        query = urlencode({"match[]": f"{name}{{{match}}}"})
        found: dict[int, float] = {}
        with urlopen(f"{self.url}/api/v1/export?{query}", timeout=30) as answer:  # noqa: S310
            for line in answer:
                series = json.loads(line)
                found.update(zip(series["timestamps"], series["values"], strict=True))
        return found


def _made(folder: Path) -> Path:
    folder.mkdir(parents=True, exist_ok=True)
    return folder
