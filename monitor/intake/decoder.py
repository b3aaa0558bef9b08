"""From a message to readings: what is used, what is refused and why. Never raises."""

from collections.abc import Iterable
from typing import NamedTuple

from monitor.errors import PayloadError
from monitor.intake import flat, pack
from monitor.intake.declared import SensorLike
from monitor.intake.number import BYTE_ORDER_MARK, text_of
from monitor.intake.plan import SensorPlan, by_topic
from monitor.intake.reasons import Reason, refusal, shown
from monitor.intake.screening import Screen
from monitor.intake.senml import CBOR_ARRAYS
from monitor.intake.sorting import Sorter
from monitor.intake.tree import check_size, parse_json
from monitor.model import Message, Reading, Refusal

RETAIN_CLEAR = "retain_clear"
_PADDING = b" \t\r\n\x00"
_OBJECT = ord("{")


class Decoded(NamedTuple):
    """What one message came to.

    ``last_known`` are values of a retained message without a time of its own: shown,
    not stored. ``unclaimed`` says that no sensor has this topic. ``update_s`` is the
    longest time to the next message, where the sensor says so. [s] A ``note`` on a unit
    is given once.
    """

    readings: list[Reading]
    last_known: list[Reading]
    refusals: list[Refusal]
    sensor: str | None = None
    unclaimed: bool = False
    note: str = ""
    update_s: float | None = None


class Decoder:
    """Reads the messages of the declared sensors.

    A ``screen`` may be carried over when the farm's files change, or begun from the
    newest stored readings, so that a restart does not forget what came before a jump.
    """

    def __init__(self, sensors: Iterable[SensorLike], screen: Screen | None = None) -> None:
        self.screen = Screen() if screen is None else screen
        self._plans = by_topic(sensors)
        self._said: set[str] = set()

    def decode(self, message: Message) -> Decoded:
        """Return what a message came to; whatever its bytes are, nothing is raised."""
        plans = self._plans.get(message.topic)
        if plans is None:
            return Decoded([], [], [], None, unclaimed=True)
        sensor = plans[0].sensor
        if not message.payload:
            return Decoded([], [], [], sensor, note=RETAIN_CLEAR)
        sorter = Sorter(message, self.screen)
        try:
            _read(message.payload, plans, sorter)
        except PayloadError as wrong:
            sorter.refusals.append(refusal(message, wrong.reason, wrong.detail, sensor))
        except Exception as defect:  # noqa: BLE001 - one message must never end the intake
            sorter.refusals.append(refusal(message, Reason.DEFECT, shown(repr(defect)), sensor))
        used = sorter.readings or sorter.last_known
        return Decoded(
            sorter.readings,
            sorter.last_known,
            sorter.refusals,
            used[0].channel.sensor if used else sensor,
            note=self._once(sorter.note) if sorter.note else "",
            update_s=sorter.update_s,
        )

    def _once(self, note: str) -> str:
        if note in self._said:
            return ""
        self._said.add(note)
        return note


def _read(payload: bytes, plans: tuple[SensorPlan, ...], sorter: Sorter) -> None:
    check_size(payload)
    first = payload[0]
    if first == _OBJECT:
        flat.read_object(parse_json(payload), plans, sorter)
    elif first in CBOR_ARRAYS:
        pack.read_records(pack.from_cbor(payload), plans, sorter)
    else:
        _read_other(payload, plans, sorter)


def _read_other(payload: bytes, plans: tuple[SensorPlan, ...], sorter: Sorter) -> None:
    body = payload.removeprefix(BYTE_ORDER_MARK).strip(_PADDING)
    if not body:
        raise PayloadError(Reason.EMPTY, "nothing but white space")
    if body[:1] == b"[" and not any(plan.takes_list for plan in plans):
        pack.read_records(pack.from_json(payload), plans, sorter)
    elif body[:1] in {b"{", b"["}:
        flat.read_object(parse_json(body), plans, sorter)
    else:
        _read_bare(payload, plans, sorter)


def _read_bare(payload: bytes, plans: tuple[SensorPlan, ...], sorter: Sorter) -> None:
    text = text_of(payload)
    channels = [channel for plan in plans for channel in plan.bare]
    if not channels:
        raise PayloadError(Reason.NO_CHANNEL, f"{shown(text[:40])} is no JSON object")
    for channel in channels:
        sorter.read(channel, text)
