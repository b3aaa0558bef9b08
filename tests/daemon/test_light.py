"""The running monitor carries no library that it seldom needs."""

import subprocess
import sys

import pytest

LOADED = "import monitor.daemon.running, monitor.cli.run_, sys; print(*sys.modules)"


@pytest.mark.parametrize("library", ["argon2", "zxcvbn", "cryptography", "PIL"])
def test_what_signing_in_or_drawing_needs_is_loaded_with_it_only(library: str) -> None:
    """A monitor at which nobody signs in, and that draws nothing, has none in its memory."""
    done = subprocess.run(
        [sys.executable, "-c", LOADED], capture_output=True, text=True, check=True
    )
    assert "monitor.web.signing_in" in done.stdout.split()
    assert library not in done.stdout.split()


HASHING = """
import threading
from monitor.access.passwords import fits, hashed, refused

def resident_mb():
    with open("/proc/self/statm") as file:
        return int(file.read().split()[1]) * 4096 / 1e6

def work():
    for _ in range(3):
        assert fits(hashed("wet glove 3am"), "wet glove 3am")

before = resident_mb()
for _ in range(3):
    thread = threading.Thread(target=work)
    thread.start()
    thread.join()
assert not refused("wet glove 3am")
print(resident_mb() - before)
"""


def test_what_a_hash_takes_is_given_back() -> None:
    """After hashes in several threads, and a look at the common ones, under 19 MiB are held."""
    done = subprocess.run(
        [sys.executable, "-c", HASHING], capture_output=True, text=True, check=True
    )
    assert float(done.stdout) < 19 * 2**20 / 1e6  # one hash alone would hold as much
