"""One-tap links: only the hash of a token is kept, and each is used once."""

import hashlib
from typing import Any, Final

from monitor.model.answering import Link, LinkAction
from monitor.store.ledger_file import LedgerFile

_NAMES: Final = "alarm, notice, person, action, made_ms, expires_ms, used_ms"


class LinkTable(LedgerFile):
    """Keeps links, and lets each be used once."""

    def add_link(self, token: str, link: Link) -> None:
        """Keep a link by the hash of its token."""
        with self._writing() as connection:
            connection.execute(
                f"INSERT INTO links (token_hash, {_NAMES}) VALUES (?, ?, ?, ?, ?, ?, ?, ?)",
                (hashed(token), link.alarm, link.notice, link.person, link.action,
                 link.made_ms, link.expires_ms, link.used_ms),
            )  # fmt: skip

    def link(self, token: str) -> Link | None:
        """Return the link of a token as it stands, or None where there never was one."""
        with self._reading() as connection:
            row = connection.execute(
                f"SELECT {_NAMES} FROM links WHERE token_hash = ?", (hashed(token),)
            ).fetchone()
        return None if row is None else _link(row)

    def use_link(self, token: str, now_ms: int) -> bool:
        """Take a link as used; False where it is unknown, expired or was used before."""
        with self._writing() as connection:
            done = connection.execute(
                "UPDATE links SET used_ms = ?"
                " WHERE token_hash = ? AND used_ms IS NULL AND expires_ms > ?",
                (now_ms, hashed(token), now_ms),
            )
            return done.rowcount == 1


def hashed(token: str) -> str:
    """Return the SHA-256 of a token in hexadecimal: all that is kept of it."""
    return hashlib.sha256(token.encode("utf-8", "replace")).hexdigest()


def _link(row: tuple[Any, ...]) -> Link:
    alarm, notice, person, action, *times = row
    return Link(alarm, notice, person, LinkAction(action), *times)
