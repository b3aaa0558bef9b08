"""Who has taken the duty, and what was thought of alarms afterwards: lines that stay."""

from monitor.model.answering import DutyLine
from monitor.store.ledger_file import LedgerFile


class DutyTable(LedgerFile):
    """Keeps who said "I've got it", and whether alarms were real."""

    def take_duty(self, line: DutyLine) -> None:
        """Write down who has the duty from when until when."""
        with self._writing() as connection:
            connection.execute(
                "INSERT INTO duty (from_ms, until_ms, person, recorded_ms, by)"
                " VALUES (?, ?, ?, ?, ?)",
                (line.from_ms, line.until_ms, line.person, line.recorded_ms, line.by),
            )

    def duty_lines(self) -> list[DutyLine]:
        """Return who took the duty when, the oldest line first."""
        with self._reading() as connection:
            rows = connection.execute(
                "SELECT from_ms, until_ms, person, recorded_ms, by FROM duty ORDER BY id"
            ).fetchall()
        return [DutyLine(*row) for row in rows]
