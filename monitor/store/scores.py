"""Was an alarm real, or needless? Lines that stay; the newest of an alarm counts."""

from monitor.store.ledger_file import LedgerFile


class ScoreTable(LedgerFile):
    """Keeps what people thought of alarms."""

    def score(self, alarm_id: int, *, needless: bool, by: str, now_ms: int) -> None:
        """Write down whether an alarm was needless."""
        with self._writing() as connection:
            connection.execute(
                "INSERT INTO scores (alarm, needless, recorded_ms, by) VALUES (?, ?, ?, ?)",
                (alarm_id, needless, now_ms, by),
            )

    def scores(self) -> dict[int, bool]:
        """Return by alarm whether it was needless."""
        with self._reading() as connection:
            rows = connection.execute("SELECT alarm, needless FROM scores ORDER BY id").fetchall()
        return {alarm: bool(needless) for alarm, needless in rows}
