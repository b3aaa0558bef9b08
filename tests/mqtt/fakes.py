"""Stand-ins for the broker's session, the store and the decoder."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

from monitor.errors import StoreError
from monitor.intake import Decoded
from monitor.model import Channel, Flag, Message, Quantity, Reading
from monitor.store import Commit, Committed


def _nothing() -> None:
    """Take no notice."""


SHED = Channel("shed", Quantity.TEMPERATURE)


def message(
    number: int = 1, payload: bytes = b"4.1", *, topic: str = "shed/t", duplicate: bool = False,
    connection: int = 1, resumed: bool = False, queued: bool = False, qos: int = 1,
    retained: bool = False, received_ms: int = 1_000,
) -> Message:  # fmt: skip
    """Return a message as a session would hand it over."""
    return Message(
        topic, payload, qos, number, duplicate, retained, connection, queued, resumed, received_ms
    )


def reading(raw: float, at_ms: int = 1_000, flags: Flag = Flag.NONE) -> Reading:
    """Return a reading of the shed's thermometer."""
    return Reading(SHED, at_ms, raw, flags, at_ms)


@dataclass
class FakeSource:
    """Hands over what a test gave it, and notes what was acknowledged, in order."""

    waiting: list[Message] = field(default_factory=list)
    acknowledged: list[Message] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.on_waiting: Callable[[], None] = _nothing

    def take(self, most: int) -> list[Message]:
        """Return up to ``most`` of what waits."""
        taken, self.waiting = self.waiting[:most], self.waiting[most:]
        return taken

    def ack(self, messages: Sequence[Message]) -> None:
        """Note acknowledgements."""
        self.acknowledged += messages

    def is_own(self, topic: str) -> bool:
        """Return whether a topic is the session's own."""
        return topic.startswith("cormwatch/")

    def give(self, *messages: Message) -> None:
        """Let messages arrive."""
        self.waiting += messages
        self.on_waiting()


@dataclass
class FakeStore:
    """Keeps commits in a list; fails while ``broken`` says so, or for poisoned values."""

    commits: list[Commit] = field(default_factory=list)
    broken: bool = False
    poison: float | None = None

    def commit(self, work: Commit) -> Committed:
        """Keep a commit."""
        if self.broken:
            raise StoreError("readings.db cannot grow: the disk is full; free some space")
        if any(each.raw == self.poison for each in work.readings):
            raise OverflowError("Python int too large to convert to SQLite INTEGER")
        self.commits.append(work)
        return Committed(len(work.readings), 0, 0, 0, work.readings)

    @property
    def values(self) -> list[float]:
        """Return all values kept, in order."""
        return [each.raw for work in self.commits for each in work.readings]


class FakeDecoder:
    """Reads a bare number; ``boom`` is a defect of its own."""

    def decode(self, given: Message) -> Decoded:
        """Return one reading, or an unclaimed topic."""
        if given.payload == b"boom":
            raise RuntimeError("a defect of the decoder")
        if not given.topic.startswith("shed"):
            return Decoded([], [], [], unclaimed=True)
        read = reading(float(given.payload), given.received_ms)
        if given.retained:
            return Decoded([], [read], [], "shed")
        return Decoded([read], [], [], "shed")


class FakeStamper:
    """Leaves times as they are."""

    def stamp(self, readings: Sequence[Reading]) -> list[Reading]:
        """Return the readings."""
        return list(readings)
