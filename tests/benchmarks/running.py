"""The real daemon in a process of its own, and what the system says of that process."""

import json
import os
import subprocess
import sys
import time
import urllib.error
import urllib.request
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

_TICKS: Final = os.sysconf("SC_CLK_TCK")
_WAIT_S: Final = 60.0
MODULES: Final = "monitor.cli.run_"
"""What a daemon imports as it starts."""
_INSTALLED: Final = {k: v for k, v in os.environ.items() if k != "PYTHONDONTWRITEBYTECODE"}
"""As installed: modules are compiled once, not at each start."""


@dataclass(frozen=True, slots=True)
class Running:
    """A daemon that is ready: its process, its pages, and how long the start took. [s]"""

    pid: int
    address: str
    pages_s: float
    ready_s: float

    def get(self, path: str) -> bytes:
        """Return what a page or a route answers."""
        return fetch(self.address + path)

    def json(self, path: str) -> Any:  # noqa: ANN401  # JSON is of any kind
        """Return what a route of the programming interface answers."""
        return json.loads(self.get(path))


def fetch(url: str) -> bytes:
    """Return the body at an address of the loopback."""
    with urllib.request.urlopen(url, timeout=30) as answer:  # noqa: S310  # our own address
        body: bytes = answer.read()
    return body


def _ready(address: str) -> bool:
    try:
        fetch(address + "/health/ready")
    except urllib.error.URLError:
        return False
    return True


def until(holds: Callable[[], bool], within_s: float = _WAIT_S, every_s: float = 0.01) -> None:
    """Wait until something holds.

    Raises
    ------
    TimeoutError
        If it does not within so long. [s]
    """
    end_s = time.monotonic() + within_s
    while not holds():
        if time.monotonic() > end_s:
            raise TimeoutError(f"it did not come about within {within_s:g} s")
        time.sleep(every_s)


@contextmanager
def daemon(folder: Path) -> Iterator[Running]:
    """Run the daemon of a farm until it is ready, and end it afterwards."""
    began_s = time.perf_counter()
    words = [sys.executable, "-m", "monitor", "run", "--farm", str(folder), "--port", "0"]
    with (
        (folder / "log").open("w", encoding="utf-8") as log,
        subprocess.Popen(
            words, stdout=subprocess.PIPE, stderr=log, text=True, env=_INSTALLED
        ) as process,
    ):
        try:
            line = process.stdout.readline() if process.stdout else ""
            address = line.rpartition(" ")[2].strip()
            pages_s = time.perf_counter() - began_s
            if not address.startswith("http"):
                raise RuntimeError(f"no daemon: {(folder / 'log').read_text(encoding='utf-8')}")
            until(lambda: _ready(address))
            yield Running(process.pid, address, pages_s, time.perf_counter() - began_s)
        finally:
            process.terminate()
            process.wait(20)


def resident_mb(pid: int) -> tuple[float, float]:
    """Return the memory of a process that is resident now, and at its most. [MB]"""
    lines = Path(f"/proc/{pid}/status").read_text(encoding="utf-8").splitlines()
    found = {name: rest for name, _, rest in (line.partition(":") for line in lines)}
    now, most = (int(found[name].split()[0]) * 1024 / 1e6 for name in ("VmRSS", "VmHWM"))
    return now, most


def processor_s(pid: int) -> float:
    """Return the processor time that a process has used, all threads, user and system. [s]"""
    words = Path(f"/proc/{pid}/stat").read_text(encoding="utf-8").rpartition(")")[2].split()
    return (int(words[11]) + int(words[12])) / _TICKS


def bare(code: str) -> tuple[float, float]:
    """Run a line of Python in an interpreter of its own; return its time [s] and memory [MB]."""
    told = (
        f"{code}; print([line.split()[1] for line in open('/proc/self/status')"
        " if line.startswith('VmRSS')][0])"
    )
    began_s = time.perf_counter()
    done = subprocess.run(
        [sys.executable, "-c", told], check=True, capture_output=True, text=True, env=_INSTALLED
    )
    return time.perf_counter() - began_s, int(done.stdout) * 1024 / 1e6
