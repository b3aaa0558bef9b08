"""TLS of the pages: unsound files are refused, and a renewed certificate is taken up."""

import asyncio
import contextlib
import ssl
from datetime import UTC, datetime
from pathlib import Path

import pytest

from monitor.access.authority import AUTHORITY, CERTIFICATE, KEY
from monitor.access.certificate import make
from monitor.daemon.encrypting import follow, refuse_unsound
from monitor.errors import FarmError
from monitor.farm import Web


def _made(folder: Path) -> Web:
    make(folder, ["localhost", "127.0.0.1"], datetime.now(UTC))
    return Web(certificate=folder / CERTIFICATE, key=folder / KEY)


def test_a_key_of_another_certificate_is_refused_at_the_start(tmp_path: Path) -> None:
    """The message names both files and the command that mends them."""
    one, other = _made(tmp_path / "one"), _made(tmp_path / "other")
    refuse_unsound(one)
    refuse_unsound(Web())
    with pytest.raises(FarmError, match="cormwatch certificate"):
        refuse_unsound(Web(certificate=one.certificate, key=other.key))


async def _serial(port: int, authority: Path) -> str:
    trusted = ssl.create_default_context(cafile=authority)
    _, writer = await asyncio.open_connection("127.0.0.1", port, ssl=trusted)
    found = writer.get_extra_info("peercert")["serialNumber"]
    writer.close()
    with contextlib.suppress(OSError):
        await writer.wait_closed()
    return str(found)


def test_a_renewed_certificate_is_taken_up_while_it_serves(tmp_path: Path) -> None:
    """New connections get the new one, and a file that is no certificate changes nothing."""
    web = _made(tmp_path)

    async def served() -> list[str]:
        context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
        context.load_cert_chain(tmp_path / CERTIFICATE, tmp_path / KEY)
        door = await asyncio.start_server(
            lambda _, writer: writer.close(), "127.0.0.1", 0, ssl=context
        )
        port = door.sockets[0].getsockname()[1]
        following = asyncio.create_task(follow(context, web, every_s=0.02))
        await asyncio.sleep(0.05)
        found = [await _serial(port, tmp_path / AUTHORITY)]
        for change in (
            lambda: (tmp_path / CERTIFICATE).write_text("no certificate"),
            lambda: _made(tmp_path),
        ):
            change()
            await asyncio.sleep(0.3)
            found.append(await _serial(port, tmp_path / AUTHORITY))
        following.cancel()
        door.close()
        return found

    first, unsound, renewed = asyncio.run(served())
    assert first == unsound != renewed
