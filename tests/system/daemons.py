"""The monitor as its users run it: the command in a process of its own."""

import contextlib
import json
import os
import signal
import subprocess
import sys
import time
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Final
from urllib.error import HTTPError
from urllib.request import urlopen

import pytest
from pydantic import SecretStr

from monitor.store import Ledger, ReadingReader
from tests.system.brokers import wait_until

ROOT: Final = Path(__file__).resolve().parents[2]


def cormwatch(
    *words: str, environ: Mapping[str, str] | None = None, given: str | None = None
) -> "subprocess.CompletedProcess[str]":
    """Run one command to its end."""
    return subprocess.run(
        [sys.executable, "-m", "monitor", *words], cwd=ROOT, env={**os.environ, **(environ or {})},
        capture_output=True, text=True, timeout=60, check=False, input=given,
    )  # fmt: skip


@dataclass
class Watched:
    """A farm's folder with a daemon that may be started, killed and started again.

    ``program`` is what is run with the folder's name behind it.
    """

    folder: Path
    environ: dict[str, str] = field(default_factory=dict)
    program: tuple[str, ...] = ("-m", "monitor", "run", "--port", "0", "--farm")
    address: str = ""

    def __post_init__(self) -> None:
        self._process: subprocess.Popen[str] | None = None

    @property
    def pid(self) -> int:
        """Return the process that runs."""
        return self.process.pid

    @property
    def process(self) -> "subprocess.Popen[str]":
        """Return the process that runs."""
        if self._process is None:
            pytest.fail("no daemon was started")
        return self._process

    @property
    def log(self) -> str:
        """Return what the daemons wrote so far."""
        return self.folder.with_suffix(".log").read_text(encoding="utf-8", errors="replace")

    def start(self, *, ready: bool = True) -> "Watched":
        """Start a daemon; wait until it serves and hears its broker."""
        with self.folder.with_suffix(".log").open("a", encoding="utf-8") as log:
            self._process = subprocess.Popen(
                [sys.executable, *self.program, str(self.folder)], cwd=ROOT,
                env={**os.environ, **self.environ}, stdout=subprocess.PIPE, stderr=log, text=True,
            )  # fmt: skip
        line = self._process.stdout.readline() if self._process.stdout else ""
        if "Pages: " not in line:
            pytest.fail(f"the daemon did not start: {line}{self.log}")
        self.address = line.rpartition("Pages: ")[2].strip()
        if ready:
            wait_until(self.ready, 20)
        return self

    def ready(self) -> bool:
        """Return whether the daemon says that it is ready."""
        with contextlib.suppress(HTTPError):
            return bool(self.get("/health/ready")["status"] == "ready")
        return False

    def get(self, path: str) -> Any:  # noqa: ANN401 - JSON
        """Return the JSON at a path."""
        with urlopen(self.address + path, timeout=10) as answer:  # noqa: S310 - our own address
            return json.loads(answer.read())

    def kill(self) -> None:
        """End it as the power does."""
        self._end(signal.SIGKILL)

    def stop(self) -> float:
        """End it as the service manager does; return how long that took. [s]"""
        begun_s = time.monotonic()
        self._end(signal.SIGTERM)
        return time.monotonic() - begun_s

    def ended(self, within_s: float = 20.0) -> int:
        """Wait for it to end by itself, and return its exit code. [s]"""
        code = self.process.wait(within_s)
        self._close()
        return code

    def _end(self, how: signal.Signals) -> None:
        if self._process is not None:
            self._process.send_signal(how)
            self._process.wait(20)
            self._close()

    def _close(self) -> None:
        if self._process is not None and self._process.stdout is not None:
            self._process.stdout.close()
        self._process = None

    def run(self, *words: str) -> "subprocess.CompletedProcess[str]":
        """Run a command on this farm beside the daemon."""
        return cormwatch(*words, "--farm", str(self.folder), environ=self.environ)

    @contextlib.contextmanager
    def ledger(self) -> Iterator[Ledger]:
        """Open the ledger beside the daemon."""
        ledger = Ledger.open(self.folder / "data" / "ledger.db")
        try:
            yield ledger
        finally:
            ledger.close()

    @contextlib.contextmanager
    def readings(self) -> Iterator[ReadingReader]:
        """Open the readings beside the daemon."""
        reader = ReadingReader(self.folder / "data" / "readings.db")
        try:
            yield reader
        finally:
            reader.close()


def new_farm(folder: Path, port: int, *addresses: SecretStr) -> Watched:
    """Return the starter farm of ``cormwatch init`` with a person's addresses, none by night.

    Without quiet hours the tests do not depend on the time of day they are run at.
    """
    done = cormwatch("init", str(folder), "--yes", "--broker", f"127.0.0.1:{port}", "--units", "F")
    assert done.returncode == 0, done.stderr
    names = ("ROBIN_MAIL", "ROBIN_HOOK")[: len(addresses)]
    wanted = ", ".join(f'"env:{name}"' for name in names)
    people = folder / "people.toml"
    text = people.read_text(encoding="utf-8")
    people.write_text(text.replace("addresses = []", f"addresses = [{wanted}]", 1), "utf-8")
    file = folder / "farm.toml"
    lines = file.read_text(encoding="utf-8").splitlines(keepends=True)
    file.write_text("".join(each for each in lines if not each.startswith("quiet_")), "utf-8")
    secrets = (each.get_secret_value() for each in addresses)
    return Watched(folder, dict(zip(names, secrets, strict=True)))
