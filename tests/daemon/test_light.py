"""The running monitor carries no library that it seldom needs."""

import subprocess
import sys

import pytest

LOADED = "import monitor.daemon.running, monitor.cli.run_, sys; print(*sys.modules)"


@pytest.mark.parametrize("library", ["argon2", "zxcvbn", "cryptography"])
def test_what_signing_in_needs_is_loaded_by_a_sign_in_only(library: str) -> None:
    """A monitor at which nobody signs in has none of them in its memory."""
    done = subprocess.run(
        [sys.executable, "-c", LOADED], capture_output=True, text=True, check=True
    )
    assert "monitor.web.signing_in" in done.stdout.split()
    assert library not in done.stdout.split()
