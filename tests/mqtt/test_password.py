"""The embedded broker's password on the disk."""

from pathlib import Path

import pytest

from monitor.errors import BrokerError
from monitor.mqtt.embedded import password_from


def test_the_password_file_is_private(tmp_path: Path) -> None:
    """A password is made once, anew where it was lost; a file others may read is refused."""
    file = tmp_path / "broker.password"
    first = password_from(file)
    assert password_from(file) == first
    assert file.stat().st_mode & 0o777 == 0o600
    for emptied in (b"", b"\0" * 33):
        file.write_bytes(emptied)
        assert password_from(file) not in ("", first)
        assert file.stat().st_mode & 0o777 == 0o600
    file.chmod(0o644)
    with pytest.raises(BrokerError, match="chmod 600"):
        password_from(file)
