"""Where a value goes: stored, shown as last known, or refused; and at which time."""

from typing import Final

from monitor.errors import PayloadError
from monitor.intake.plan import ChannelPlan
from monitor.intake.reasons import refusal
from monitor.intake.screening import Screen
from monitor.intake.value import SATURATED_PCT, read_value
from monitor.model import Flag, Message, Quantity, Reading, Refusal

_NONE: Final = Flag.NONE
_DEVICE: Final = Flag.DEVICE_TIME
_HUMIDITY: Final = Quantity.HUMIDITY


class Sorter:
    """What one message has yielded so far."""

    __slots__ = (
        "_message", "_screen", "_without_time", "last_known", "note", "readings", "refusals",
        "update_s",
    )  # fmt: skip

    def __init__(self, message: Message, screen: Screen) -> None:
        self._message = message
        self._screen = screen
        self._without_time = Flag.TIME_UNCERTAIN if message.queued else _NONE
        self.readings: list[Reading] = []
        self.last_known: list[Reading] = []
        self.refusals: list[Refusal] = []
        self.note = ""
        self.update_s: float | None = None

    @property
    def received_ms(self) -> int:
        """Return when the message was received. [ms]"""
        return self._message.received_ms

    @property
    def fresh(self) -> bool:
        """Return whether a time relative to receipt means anything."""
        return not (self._message.queued or self._message.retained)

    def take(
        self, channel: ChannelPlan, raw: float, device_ms: int | None, flags: Flag = _NONE
    ) -> None:
        """Take one value, with the sensor's own time [ms] where it is credible."""
        received_ms = self._message.received_ms
        if device_ms is None:
            at_ms = received_ms
            if self._without_time is not _NONE:
                flags |= self._without_time
        else:
            at_ms = device_ms
            flags = _DEVICE if flags is _NONE else flags | _DEVICE
        if channel.quantity is _HUMIDITY and raw > SATURATED_PCT:
            flags |= Flag.SATURATED
        if device_ms is None and self._message.retained:
            self.last_known.append(Reading(channel.channel, at_ms, raw, flags, received_ms))
            return
        if device_ms is not None or not self._message.queued:  # else its time is unknown
            doubt = self._screen.judge(channel.channel, channel.unit, at_ms, raw)
            if doubt is not _NONE:
                flags |= doubt
        self.readings.append(Reading(channel.channel, at_ms, raw, flags, received_ms))

    def read(
        self,
        channel: ChannelPlan,
        value: object,
        device_ms: int | None = None,
        flags: Flag = _NONE,
        *,
        label: str | None = None,
    ) -> None:
        """Read one value of whatever form, and take or refuse it."""
        try:
            raw, unit = read_value(
                value, channel.quantity, channel.unit,
                decimal_comma=channel.decimal_comma, label=label,
            )  # fmt: skip
        except PayloadError as wrong:
            self.refuse(channel, wrong)
            return
        if unit != channel.unit:
            self.note = (
                f"{channel.channel.sensor} {channel.quantity}: labelled {unit}, declared"
                f" {channel.unit}; read as labelled"
            )
        self.take(channel, raw, device_ms, flags)

    def refuse(self, channel: ChannelPlan, wrong: PayloadError) -> None:
        """Keep what was refused of one channel, with its reason."""
        self.refusals.append(
            refusal(
                self._message, wrong.reason, wrong.detail,
                channel.channel.sensor, channel.quantity,
            )
        )  # fmt: skip
