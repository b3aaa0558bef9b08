"""How the monitor itself is, in sentences, for the first page and the health checks."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime
from typing import Final

from monitor.access.authority import ending
from monitor.daemon import backing
from monitor.daemon.heartbeat import Heartbeat
from monitor.daemon.intake import Intake
from monitor.daemon.judge import Judge
from monitor.daemon.mirroring import Mirroring
from monitor.daemon.room import Disk
from monitor.daemon.supervising import Supervisor
from monitor.errors import StoreError
from monitor.model import Channel, Reading
from monitor.notices import drills
from monitor.store import ReadingStore
from monitor.web.desk import Health

_SHOWN_MS: Final = 3_600_000


@dataclass
class Condition:
    """Looks at the parts; ``last_known`` are retained values without a time of their own."""

    judge: Judge
    store: ReadingStore
    intake: Intake
    supervisor: Supervisor
    last_known: dict[Channel, Reading] = field(default_factory=dict)
    unusable: Mapping[tuple[str, str], str] = field(default_factory=dict)
    heart: Heartbeat | None = None
    mirroring: Mirroring | None = None
    disk: Disk | None = None

    def remember(self, readings: Sequence[Reading]) -> None:
        """Remember what is shown as last known, and never judged."""
        for each in readings:
            self.last_known[each.channel] = each

    def health(self) -> Health:
        """Return how the monitor is now; called from any thread."""
        worker, status = self.intake.worker, self.intake.status()
        connected = status is not None and status.connected
        stuck = self.judge.stuck
        writable = (worker is None or not worker.failing) and not stuck
        counts = self.intake.counts
        mirror = None if self.mirroring is None else self.mirroring.standing
        copied: dict[str, float] = {}
        if mirror is not None:
            copied = {"mirrored": mirror.sent, "mirror_refused": mirror.refused}
        room = None if self.disk is None else self.disk.room
        return Health(
            ready=connected and writable,
            broker="connected" if connected else (status.problem if status else "not started"),
            store="writable" if writable else "cannot write",
            troubles=tuple(self._troubles(connected=connected, writable=writable)),
            counts={
                "messages": counts.messages, "readings": counts.readings,
                "redelivered": counts.redelivered, "refused": counts.refused,
                "unclaimed": counts.unclaimed, "unstored": counts.unstored, **copied,
            },
            backup="" if self.judge.farm.backup is None else self._backup().word(),
            copies=tuple(self._copies()),
            disk="" if room is None else room.word(),
            disk_free=None if room is None else room.free,
            disk_days=None if room is None else room.days,
            mirror="" if mirror is None else mirror.word(),
            behind_s=0.0 if mirror is None else mirror.behind_s(self.judge.clock.now_ms()),
        )  # fmt: skip

    def _backup(self) -> backing.BackupStanding:
        try:
            return backing.standing_of(self.judge.ledger.get(backing.KEY))
        except StoreError:  # told above already
            return backing.BackupStanding()

    def _copies(self) -> list[str]:
        judge = self.judge
        if judge.farm.backup is None:
            return []
        return backing.told(self._backup(), judge.words, judge.clock.now_ms())

    def _drills(self) -> list[str]:
        judge = self.judge
        try:
            kept = judge.ledger.get(drills.KEY)
        except StoreError:  # told above already
            return []
        return drills.untested(kept, judge.farm.people, judge.clock.now_ms())

    def _troubles(self, *, connected: bool, writable: bool) -> list[str]:
        told = []
        if not connected:
            told.append("No word from the broker: nothing is heard from any sensor.")
        if not writable:
            told.append(
                f"Alarms cannot be written down, so nobody is told of them: {self.judge.stuck}"
                if self.judge.stuck
                else "Readings cannot be written: they are judged, and lost for the history."
            )
        if not any(each.addresses for each in self.judge.farm.people.values()):
            told.append("Nobody would be told: no one in people.toml has an address.")
        if self.judge.farm.broker.embedded:
            told.append(
                "The broker runs inside the monitor, for a trial: what is on its way is lost "
                "when the monitor stops. A farm runs mosquitto."
            )
        now = datetime.fromtimestamp(self.judge.clock.now_ms() / 1000, UTC)
        told += filter(None, [ending(self.judge.farm.web.certificate, now)])
        if self.heart is not None:
            told += self.heart.troubles()
        told += self._mirror()
        told += self._drills()
        told += backing.troubles(
            self.judge.farm, self._backup(), self.judge.words, self.judge.clock.now_ms()
        )
        told += [f"Nothing can be sent to address {label} of {person}: {why}."
                 for (person, label), why in self.unusable.items()]  # fmt: skip
        told += self._unstable()
        told += [*self.store.notices, *filter(None, [self.judge.ledger.told])]
        told += [f"The part {name} had to be started anew: {why}"
                 for name, why in self.supervisor.deaths.items()]  # fmt: skip
        return told

    def _mirror(self) -> list[str]:
        """Return what is wrong with the copy elsewhere, if it has been for hours."""
        standing = None if self.mirroring is None else self.mirroring.standing
        if standing is None:
            return []
        now_ms = self.judge.clock.now_ms()
        began_ms = standing.failing_since_ms or now_ms
        return standing.troubles(now_ms, self.judge.words.time(began_ms, now_ms))

    def _unstable(self) -> list[str]:
        """Return what was wrong with the connection within the last hour, once."""
        event = self.intake.trouble
        if event is None or self.judge.clock.now_ms() - event.at_ms > _SHOWN_MS:
            return []
        return [f"The connection to the broker: {event.text}"]
