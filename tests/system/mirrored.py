"""A farm's readings and what forwards them, with waits that are short; and a batch's report."""

from collections.abc import Callable, Mapping, Sequence
from contextlib import closing
from dataclasses import dataclass, field
from pathlib import Path

from monitor.clock import SystemClock
from monitor.farm import Mirror, load
from monitor.mirror.places import Places
from monitor.mirror.querying import Query
from monitor.mirror.waiting import Waits
from monitor.mirror.worker import Forwarder, Source
from monitor.model import Channel, Flag, Quantity, Reading
from monitor.report.listing import report_json
from monitor.report.making import Sources, make_report
from monitor.store import ArrivalReader, Commit, Ledger, ReadingReader, ReadingStore
from tests.system.brokers import wait_until

AIR = Channel("cooler-door-side", Quantity.TEMPERATURE)
DAMP = Channel("cooler-door-side", Quantity.HUMIDITY)
SOIL = Channel("tunnel-2-soil", Quantity.SOIL_TEMPERATURE)
HERE = {"cooler-door-side": "walk-in-cooler", "tunnel-2-soil": "tunnel-2"}
WAITS_S = (0.05, 0.1)


@dataclass
class Copied:
    """A store, and a forwarder to a server that may be begun anew."""

    folder: Path
    url: str
    accepted: list[tuple[int, Mapping[str, str]]] = field(default_factory=lambda: [(0, HERE)])
    batch: int = 500
    site: str = "brook"

    def __post_init__(self) -> None:
        self.store = ReadingStore.open(self.folder / "readings.db")
        self.now_ms = SystemClock().now_ms()
        self.forwarder = self._begun()

    @property
    def mirror(self) -> Mirror:
        """Return where readings go."""
        return Mirror(self.url, "farms", self.site)

    def _begun(self) -> Forwarder:
        source = Source(self.folder, lambda: Places(self.accepted), SystemClock(), settle_ms=0)
        return Forwarder(self.mirror, source, waits=Waits(WAITS_S), batch=self.batch)

    def restart(self) -> None:
        """Begin anew, as a new process does."""
        self.forwarder.close()
        self.forwarder = self._begun()

    def keep(
        self,
        channel: Channel,
        minutes: Sequence[int],
        value: Callable[[int], float] = lambda at: at / 100,
    ) -> None:
        """Store a reading of each minute before now."""
        flags = (Flag.NONE, Flag.DEVICE_TIME, Flag.DEVICE_TIME | Flag.SUSPECT)
        taken = [
            Reading(
                channel, self.now_ms - minute * 60_000, value(minute),
                Flag.DEVICE_TIME | flags[minute % 3], self.now_ms,
            )
            for minute in minutes
        ]  # fmt: skip
        self.store.commit(Commit(taken))

    def step(self) -> bool:
        """Send once; return whether nothing waits and nothing fails."""
        self.forwarder.step()
        standing = self.forwarder.standing
        return standing.failing_since_ms is None and not self.forwarder.more

    def until_sent(self, within_s: float = 20.0) -> None:
        """Send until nothing waits."""
        wait_until(self.step, within_s)

    def reader(self) -> ArrivalReader:
        """Return a reader of what is kept here."""
        return ArrivalReader(self.store.path)

    def query(self) -> Query:
        """Return what asks the server."""
        return Query(self.mirror)

    def close(self) -> None:
        """Close all files."""
        self.forwarder.close()
        self.store.close()


def report_of(folder: Path, now_ms: int) -> object:
    """Return the report of a farm's first batch as of a time. [ms]"""
    farm = load(folder, secrets_needed=False)
    with (
        closing(Ledger.open(farm.data_dir / "ledger.db")) as ledger,
        closing(ReadingReader(farm.data_dir / "readings.db")) as reader,
    ):
        return report_json(make_report(Sources(farm, ledger, reader, now_ms), 1))
