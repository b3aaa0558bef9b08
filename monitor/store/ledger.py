"""The ledger: batches, alarms, the outbox and the accepted configurations, in one file."""

import json
from collections.abc import Mapping

from monitor.store.alarm_table import AlarmTable
from monitor.store.duty import DutyTable
from monitor.store.entries import EntryTable
from monitor.store.ledger_file import as_json
from monitor.store.links import LinkTable
from monitor.store.outbox import Outbox
from monitor.store.records import Configuration
from monitor.store.scores import ScoreTable


class Ledger(EntryTable, AlarmTable, Outbox, LinkTable, DutyTable, ScoreTable):
    """All that is true of the farm apart from its readings: ``ledger.db``."""

    def accept_configuration(
        self, texts: Mapping[str, str], digest: str, at_ms: int, by: str
    ) -> bool:
        """Keep the farm's files as accepted; return False where they are the newest already."""
        with self._writing() as connection:
            newest = connection.execute(
                "SELECT digest FROM configurations ORDER BY id DESC LIMIT 1"
            ).fetchone()
            if newest is not None and newest[0] == digest:
                return False
            connection.execute(
                "INSERT INTO configurations (at_ms, by, digest, texts) VALUES (?, ?, ?, ?)",
                (at_ms, by, digest, as_json(dict(texts))),
            )
        return True

    def newest_configuration(self) -> int:
        """Return the number of the configuration accepted last, 0 where there is none."""
        with self._reading() as connection:
            row = connection.execute("SELECT coalesce(max(id), 0) FROM configurations").fetchone()
        number: int = row[0]
        return number

    def configurations(self) -> list[Configuration]:
        """Return the accepted configurations, the oldest first."""
        with self._reading() as connection:
            rows = connection.execute(
                "SELECT id, at_ms, by, digest, texts FROM configurations ORDER BY id"
            ).fetchall()
        return [
            Configuration(id_, at_ms, by, digest, json.loads(texts))
            for id_, at_ms, by, digest, texts in rows
        ]
