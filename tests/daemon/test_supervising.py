"""Parts are kept running, and their deaths are told."""

import asyncio
import socket
from pathlib import Path

import pytest

from monitor.daemon.alive import tell_manager
from monitor.daemon.supervising import PartDiedError, Supervisor


class _Frail:
    """A part that dies a given number of times and then ends well."""

    def __init__(self, deaths: int) -> None:
        self.left = deaths
        self.starts = 0

    async def __call__(self) -> None:
        self.starts += 1
        if self.left:
            self.left -= 1
            raise OSError("pipe broke")


def test_a_part_that_dies_once_is_restarted_with_its_reason_shown() -> None:
    """One death restarts the part, and the reason stands for the health page."""
    supervisor, part = Supervisor(monotonic_s=lambda: 0.0), _Frail(1)
    asyncio.run(supervisor.keep("intake", part))
    assert part.starts == 2
    assert supervisor.deaths == {"intake": "OSError: pipe broke"}


def test_two_deaths_within_ten_minutes_end_the_daemon() -> None:
    """A second death within ten minutes is not hidden by another restart."""
    times = iter([0.0, 599.0])
    supervisor, part = Supervisor(monotonic_s=lambda: next(times)), _Frail(2)
    with pytest.raises(PartDiedError, match=r"intake died twice.*pipe broke"):
        asyncio.run(supervisor.keep("intake", part))


def test_two_deaths_far_apart_are_two_restarts() -> None:
    """A death more than ten minutes after the last one restarts the part again."""
    times = iter([0.0, 601.0])
    supervisor, part = Supervisor(monotonic_s=lambda: next(times)), _Frail(2)
    asyncio.run(supervisor.keep("intake", part))
    assert part.starts == 3


def test_the_service_manager_is_told_over_its_socket(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A state goes as one datagram to the socket the manager names, and nowhere without one."""
    monkeypatch.delenv("NOTIFY_SOCKET", raising=False)
    assert not tell_manager("READY=1")
    with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as manager:
        manager.bind(str(tmp_path / "notify"))
        monkeypatch.setenv("NOTIFY_SOCKET", str(tmp_path / "notify"))
        assert tell_manager("READY=1")
        assert manager.recv(64) == b"READY=1"
