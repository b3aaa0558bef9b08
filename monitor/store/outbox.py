"""The outbox: a notice is a row before it is a message, and each try leaves a line."""

import json
import sqlite3
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import replace
from typing import Any, Final

from monitor.errors import UnknownNameError
from monitor.model import Notice, NoticeKind, NoticeStatus
from monitor.store.ledger_file import LedgerFile, put

_NAMES: Final = (
    "alarm, kind, person, address, title, body, created_ms, due_ms, status, attempts,"
    " sent_ms, last_error, priority"
)
_INSERT: Final = f"INSERT INTO outbox ({_NAMES}) VALUES ({', '.join('?' * 13)})"
_SELECT: Final = f"SELECT id, {_NAMES} FROM outbox"
_LINE: Final = "INSERT INTO attempts (notice, at_ms, status, error) VALUES (?, ?, ?, ?)"
ERROR_LENGTH: Final = 500
GONE: Final = "gone"
_MARKS: Final = "addresses"
_ASIDE: Final = "to "
WITHDRAWN: Final = "over before anybody was to be told"
OF_A_COPY: Final = "waited when the copy was made that was put back"


def _moves(old: Sequence[str], new: Sequence[str]) -> dict[str, str]:
    """Return the new name of each address that has another now."""
    free: dict[str, list[str]] = {}
    for number, mark in enumerate(new, start=1):
        free.setdefault(mark, []).append(str(number))
    found: dict[str, str] = {}
    for number, mark in enumerate(old, start=1):
        moved = free[mark].pop(0) if free.get(mark) else GONE
        if moved != str(number):
            found[str(number)] = moved
    return found


class Outbox(LedgerFile):
    """Reads and writes notices."""

    def add_notices(
        self, notices: Sequence[Notice], now_ms: int | None = None,
        *, note: tuple[str, Any] | None = None,
    ) -> tuple[Notice, ...]:  # fmt: skip
        """Write notices that no alarm's decision carries; return them with their ids.

        ``note`` is a key and a JSON value kept with them, both or neither: what says that
        they have been written.
        """
        with self._writing() as connection:
            if note is not None:
                put(connection, *note)
            return insert_notices(connection, notices, now_ms)

    def readdress(self, marks: Mapping[str, Sequence[str]]) -> None:
        """Let notices follow their addresses where people's lists of them have changed.

        Parameters
        ----------
        marks : mapping
            By person, a mark of each address in its place in the list: the same as long as
            the address is, and telling nothing of it. A notice of one that is no longer
            there becomes one of ``GONE``; one of a list first seen now stays as it is.
        """
        with self._writing() as connection:
            row = connection.execute("SELECT value FROM state WHERE key = ?", (_MARKS,)).fetchone()
            before: dict[str, list[str]] = {} if row is None else json.loads(row[0])
            now = {person: list(each) for person, each in marks.items() if each}
            if before == now:
                return
            for person, old in before.items():
                for label, moved in _moves(old, now.get(person, [])).items():
                    connection.execute(
                        "UPDATE outbox SET address = ? WHERE person = ? AND address = ?",
                        (f"{_ASIDE}{moved}", person, label),
                    )
            connection.execute(
                "UPDATE outbox SET address = substr(address, ?) WHERE address LIKE ?",
                (len(_ASIDE) + 1, f"{_ASIDE}%"),
            )
            put(connection, _MARKS, now)

    def waiting(self, now_ms: int) -> list[Notice]:
        """Return the notices that are due, in the order they were written."""
        return self._some("status = 'waiting' AND due_ms <= ? ORDER BY id", now_ms)

    def next_due(self) -> int | None:
        """Return when the next waiting notice is due, or None. [ms]"""
        with self._reading() as connection:
            due_ms: int | None = connection.execute(
                "SELECT min(due_ms) FROM outbox WHERE status = 'waiting'"
            ).fetchone()[0]
        return due_ms

    def notices(self, limit: int = 200) -> list[Notice]:
        """Return notices, the newest first."""
        return self._some("1 ORDER BY id DESC LIMIT ?", limit)

    def notices_of(self, alarm_id: int) -> list[Notice]:
        """Return the notices of one alarm, the oldest first."""
        return self._some("alarm = ? ORDER BY id", alarm_id)

    def failing_since(self) -> int | None:
        """Return since when nothing gets through to any address while some waits. [ms]

        None where nothing waits after a failed try, or newer messages went out.
        """
        with self._reading() as connection:
            since_ms: int | None = connection.execute(
                "SELECT min(a.at_ms) FROM attempts a JOIN outbox o ON o.id = a.notice"
                " WHERE o.status = 'waiting' AND o.attempts > 0 AND a.error <> ''"
                " AND o.created_ms >"
                " (SELECT coalesce(max(created_ms), 0) FROM outbox WHERE status = 'sent')"
            ).fetchone()[0]
        return since_ms

    def put_off(self, alarm_id: int, until_ms: int) -> None:
        """Let what waits to tell of an alarm, and was not tried yet, wait until a time. [ms]"""
        with self._writing() as connection:
            connection.execute(
                "UPDATE outbox SET due_ms = max(due_ms, ?) WHERE alarm = ? AND attempts = 0"
                " AND status = 'waiting' AND kind = 'raised'",
                (until_ms, alarm_id),
            )

    def move_due(self, now_ms: int, moved: Callable[[Notice], int]) -> None:
        """Give what waits, was not tried yet and was written later than now another time. [ms]

        That is what a clock wrote that has been set back since.
        """
        with self._writing() as connection:
            rows = connection.execute(
                f"{_SELECT} WHERE status = 'waiting' AND attempts = 0 AND created_ms > ?", (now_ms,)
            ).fetchall()
            for notice in map(_notice, rows):
                due_ms = (moved(notice), notice.id)
                connection.execute("UPDATE outbox SET due_ms = ? WHERE id = ?", due_ms)

    def raise_sent(self, alarm_id: int, person: str, address: str) -> bool:
        """Return whether an address has been told of an alarm: else it needs no clearing."""
        kinds = f"('{NoticeKind.RAISED}', '{NoticeKind.REMINDER}')"
        sent = self._some(
            f"alarm = ? AND person = ? AND address = ? AND kind IN {kinds} AND status = 'sent'"
            " LIMIT 1", alarm_id, person, address,
        )  # fmt: skip
        return bool(sent)

    def first_tries(self) -> dict[int, int]:
        """Return when each notice that waits after a failed try was tried first, by id. [ms]"""
        with self._reading() as connection:
            return dict(
                connection.execute(
                    "SELECT a.notice, min(a.at_ms) FROM outbox o JOIN attempts a ON a.notice = o.id"
                    " WHERE o.status = 'waiting' AND o.attempts > 0 AND a.error <> ''"
                    " GROUP BY a.notice"
                )
            )

    def told_between(self, person: str, address: str, since_ms: int, until_ms: int) -> list[Notice]:
        """Return the alarms' raises and reminders that an address was sent within a time. [ms]"""
        return self._some(
            "person = ? AND address = ? AND sent_ms > ? AND sent_ms <= ? AND status = 'sent'"
            f" AND kind IN ('{NoticeKind.RAISED}', '{NoticeKind.REMINDER}')",
            person, address, since_ms, until_ms,
        )  # fmt: skip

    def rang_since(self, since_ms: int) -> list[Notice]:
        """Return the alarms' raises and reminders that were sent since a time. [ms]"""
        return self._some(
            "status = 'sent' AND sent_ms >= ?"
            f" AND kind IN ('{NoticeKind.RAISED}', '{NoticeKind.REMINDER}')", since_ms,
        )  # fmt: skip

    def record_attempt(
        self, notice_id: int, at_ms: int, *, sent: bool, error: str = "",
        retry_at_ms: int | None = None,
    ) -> Notice:  # fmt: skip
        """Record one try to send: sent, to be tried again at a time [ms], or failed for good.

        Raises
        ------
        UnknownNameError
            If there is no such notice.
        """
        if sent:
            status = NoticeStatus.SENT
        else:
            status = NoticeStatus.FAILED if retry_at_ms is None else NoticeStatus.WAITING

        def after(notice: Notice) -> Notice:
            return replace(
                notice,
                status=status,
                attempts=notice.attempts + 1,
                sent_ms=at_ms if sent else None,
                last_error=error[:ERROR_LENGTH],
                due_ms=notice.due_ms if retry_at_ms is None else retry_at_ms,
            )

        return self._change(notice_id, at_ms, after)

    def drop_notice(self, notice_id: int, at_ms: int, why: str) -> Notice:
        """Record that a notice is not to be sent, such as a clearing without its raise."""
        return self._change(
            notice_id,
            at_ms,
            lambda notice: replace(
                notice, status=NoticeStatus.DROPPED, last_error=why[:ERROR_LENGTH]
            ),
        )

    def _change(self, notice_id: int, at_ms: int, after: Callable[[Notice], Notice]) -> Notice:
        with self._writing() as connection:
            row = connection.execute(f"{_SELECT} WHERE id = ?", (notice_id,)).fetchone()
            if row is None:
                raise UnknownNameError(f"there is no notice {notice_id}")
            notice = after(_notice(row))
            connection.execute(
                "UPDATE outbox SET status = ?, attempts = ?, sent_ms = ?, last_error = ?,"
                " due_ms = ? WHERE id = ?",
                (notice.status, notice.attempts, notice.sent_ms, notice.last_error,
                 notice.due_ms, notice.id),
            )  # fmt: skip
            connection.execute(_LINE, (notice.id, at_ms, notice.status, notice.last_error))
        return notice

    def _some(self, condition: str, *values: object) -> list[Notice]:
        with self._reading() as connection:
            rows = connection.execute(f"{_SELECT} WHERE {condition}", values).fetchall()
        return [_notice(row) for row in rows]


def withdraw(connection: sqlite3.Connection, alarm_id: int, now_ms: int) -> None:
    """Drop, inside a transaction, what was to tell of an alarm later and was not tried yet."""
    which = "alarm = ? AND attempts = 0 AND due_ms > ?"
    _drop(connection, which, (alarm_id, now_ms), now_ms, WITHDRAWN)


def withdraw_all(connection: sqlite3.Connection, now_ms: int) -> None:
    """Drop, inside a transaction, whatever waits in the copy of a ledger: it was of then."""
    _drop(connection, "1", (), now_ms, OF_A_COPY)


def _drop(
    connection: sqlite3.Connection, which: str, values: tuple[object, ...], now_ms: int, why: str
) -> None:
    asked = f"SELECT id FROM outbox WHERE status = 'waiting' AND {which}"
    for (notice_id,) in connection.execute(asked, values).fetchall():
        connection.execute(
            "UPDATE outbox SET status = ?, last_error = ? WHERE id = ?",
            (NoticeStatus.DROPPED, why, notice_id),
        )
        connection.execute(_LINE, (notice_id, now_ms, NoticeStatus.DROPPED, why))


def insert_notices(
    connection: sqlite3.Connection, notices: Iterable[Notice], now_ms: int | None
) -> tuple[Notice, ...]:
    """Write notices inside a transaction; return them with their ids."""
    written = []
    for each in notices:
        added = connection.execute(_INSERT, _values(each))
        notice = replace(each, id=added.lastrowid or 0)
        at_ms = each.created_ms if now_ms is None else now_ms
        connection.execute(_LINE, (notice.id, at_ms, notice.status, notice.last_error))
        written.append(notice)
    return tuple(written)


def _values(notice: Notice) -> tuple[object, ...]:
    return (
        notice.alarm, notice.kind, notice.person, notice.address, notice.title, notice.body,
        notice.created_ms, notice.due_ms, notice.status, notice.attempts, notice.sent_ms,
        notice.last_error, notice.priority,
    )  # fmt: skip


def _notice(row: tuple[Any, ...]) -> Notice:
    id_, alarm, kind, *texts = row
    person, address, title, body, created_ms, due_ms, status, *rest = texts
    return Notice(
        id_, alarm, NoticeKind(kind), person, address, title, body, created_ms, due_ms,
        NoticeStatus(status), *rest,
    )  # fmt: skip
