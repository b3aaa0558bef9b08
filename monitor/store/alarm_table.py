"""Alarms and their audit: each transition reads, judges and writes in one transaction."""

import json
import sqlite3
from collections import Counter
from collections.abc import Callable
from dataclasses import replace
from typing import Any, Final

from monitor.errors import UnknownNameError
from monitor.model import (
    Alarm,
    AlarmKey,
    AlarmKind,
    AlarmState,
    Answer,
    AuditLine,
    Decision,
    Priority,
    Quantity,
)
from monitor.store.ledger_file import LedgerFile, as_json
from monitor.store.outbox import insert_notices, withdraw

Decide = Callable[[Alarm | None], Decision | None]

_COLUMNS: Final = (
    "kind", "subject", "priority", "state", "place", "sensor", "quantity", "batches",
    "began_ms", "raised_ms", "returned_ms", "acknowledged_ms", "acknowledged_by",
    "value", '"limit"', "peak", "title", "text", "facts",
    "active", "until_ms", "why", "once", "answer",
)  # fmt: skip
_NAMES: Final = ", ".join(_COLUMNS)
_INSERT: Final = f"INSERT INTO alarms ({_NAMES}) VALUES ({', '.join('?' * len(_COLUMNS))})"
_UPDATE: Final = f"UPDATE alarms SET {', '.join(f'{each} = ?' for each in _COLUMNS)} WHERE id = ?"
_SELECT: Final = f"SELECT id, {_NAMES} FROM alarms"
_RECENT: Final = 200
_EVERY: Final = -1


class AlarmTable(LedgerFile):
    """Reads alarms, and lets one pure function decide what becomes of one."""

    def transact(
        self, key: AlarmKey, decide: Decide, now_ms: int, judged_to_ms: int | None = None
    ) -> Decision | None:
        """Decide about the open alarm of a key, and write all that follows, or nothing.

        Parameters
        ----------
        key : AlarmKey
            Whose alarm: at most one of it is open.
        decide : callable
            Is given the open row (state other than normal) or None; pure; may raise.
        now_ms : int
            When the row is changed. [ms]
        judged_to_ms : int, optional
            How far readings are judged with this decision, written with it. [ms]

        Returns
        -------
        Decision or None
            What was decided, with the ids it was given.
        """
        with self._writing() as connection:
            row = connection.execute(
                f"{_SELECT} WHERE kind = ? AND subject = ? AND state <> 'normal'", key
            ).fetchone()
            decided = decide(None if row is None else _alarm(row))
            written = None if decided is None else _write(connection, decided, now_ms)
            self._note_judged(connection, judged_to_ms)
        return written

    def transact_id(self, alarm_id: int, decide: Decide, now_ms: int) -> Decision | None:
        """Decide about one alarm by its number, open or not.

        Raises
        ------
        UnknownNameError
            If there is no such alarm.
        """
        with self._writing() as connection:
            decided = decide(_by_id(connection, alarm_id))
            return None if decided is None else _write(connection, decided, now_ms)

    def alarms(
        self, *, open_only: bool = False, place: str | None = None, limit: int | None = None
    ) -> list[Alarm]:
        """Return alarms, the newest first: every open one, of all no more than 200 by default.

        With ``place`` those of one place alone.
        """
        which = ["state <> 'normal'"] * open_only + ["place = :place"] * (place is not None)
        where = f" WHERE {' AND '.join(which)}" if which else ""
        if limit is None:
            limit = _EVERY if open_only else _RECENT
        with self._reading() as connection:
            rows = connection.execute(
                f"{_SELECT}{where} ORDER BY id DESC LIMIT :limit", {"place": place, "limit": limit}
            )
            return [_alarm(row) for row in rows.fetchall()]

    def open_counts(self) -> Counter[AlarmState]:
        """Return how many alarms stand in each state but normal."""
        with self._reading() as connection:
            rows = connection.execute(
                "SELECT state, count(*) FROM alarms WHERE state <> 'normal' GROUP BY state"
            )
            return Counter({AlarmState(state): count for state, count in rows.fetchall()})

    def alarms_since(self, since_ms: int) -> list[Alarm]:
        """Return the alarms raised since a time, the newest first. [ms]"""
        with self._reading() as connection:
            rows = connection.execute(
                f"{_SELECT} WHERE raised_ms >= ? ORDER BY id DESC", (since_ms,)
            )
            return [_alarm(row) for row in rows.fetchall()]

    def alarm(self, alarm_id: int) -> Alarm:
        """Return one alarm.

        Raises
        ------
        UnknownNameError
            If there is no such alarm.
        """
        with self._reading() as connection:
            return _by_id(connection, alarm_id)

    def audit(self, alarm_id: int) -> list[AuditLine]:
        """Return an alarm's transitions, the oldest first."""
        with self._reading() as connection:
            rows = connection.execute(
                'SELECT at_ms, by, before, after, value, "limit", note FROM audit'
                " WHERE alarm = ? ORDER BY id", (alarm_id,)
            ).fetchall()  # fmt: skip
        return [
            AuditLine(at_ms, by, AlarmState(before), AlarmState(after), *rest)
            for at_ms, by, before, after, *rest in rows
        ]


def _by_id(connection: sqlite3.Connection, alarm_id: int) -> Alarm:
    try:
        row = connection.execute(f"{_SELECT} WHERE id = ?", (alarm_id,)).fetchone()
    except OverflowError:  # a number that no row can have
        row = None
    if row is None:
        raise UnknownNameError(
            f"there is no alarm {alarm_id}; see their numbers with: cormwatch alarm list"
        )
    return _alarm(row)


def _write(connection: sqlite3.Connection, decision: Decision, now_ms: int) -> Decision:
    alarm = decision.alarm
    if alarm.id:
        connection.execute(_UPDATE, (*_values(alarm), alarm.id))
    else:
        added = connection.execute(_INSERT, _values(alarm))
        alarm = replace(alarm, id=added.lastrowid or 0)
    connection.executemany(
        'INSERT INTO audit (alarm, at_ms, by, before, after, value, "limit", note)'
        " VALUES (?, ?, ?, ?, ?, ?, ?, ?)",
        [
            (alarm.id, each.at_ms, each.by, each.before, each.after, each.value, each.limit,
             each.note)
            for each in decision.audit
        ],
    )  # fmt: skip
    if decision.withdraw:
        withdraw(connection, alarm.id, now_ms)
    notices = [
        replace(each, alarm=alarm.id) if each.alarm == 0 else each for each in decision.notices
    ]
    written = insert_notices(connection, notices, now_ms)
    return Decision(alarm, decision.audit, written, decision.withdraw)


def _values(alarm: Alarm) -> tuple[object, ...]:
    return (
        alarm.key.kind, alarm.key.subject, alarm.priority, alarm.state, alarm.place,
        alarm.sensor, alarm.quantity, as_json(alarm.batches), alarm.began_ms, alarm.raised_ms,
        alarm.returned_ms, alarm.acknowledged_ms, alarm.acknowledged_by, alarm.value,
        alarm.limit, alarm.peak, alarm.title, alarm.text, as_json(dict(alarm.facts)),
        alarm.active, alarm.until_ms, alarm.why, alarm.once, alarm.answer,
    )  # fmt: skip


def _alarm(row: tuple[Any, ...]) -> Alarm:
    named = dict(zip(("id", *(each.strip('"') for each in _COLUMNS)), row, strict=True))
    named["key"] = AlarmKey(AlarmKind(named.pop("kind")), named.pop("subject"))
    named["priority"] = Priority(named["priority"])
    named["state"] = AlarmState(named["state"])
    named["quantity"] = named["quantity"] and Quantity(named["quantity"])
    named["batches"] = tuple(json.loads(named["batches"]))
    named["facts"] = json.loads(named["facts"])
    named["active"], named["once"] = bool(named["active"]), bool(named["once"])
    named["answer"] = named["answer"] and Answer(named["answer"])
    return Alarm(**named)
