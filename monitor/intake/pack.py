"""SenML records, sorted to a sensor's channels."""

from collections.abc import Sequence
from typing import Final

from monitor.errors import PayloadError
from monitor.intake.device_time import credible
from monitor.intake.plan import SENML_UNITS, ChannelPlan, SensorPlan, channels_for
from monitor.intake.reasons import Reason, shown
from monitor.intake.senml import Record, parse_pack_cbor, parse_pack_json
from monitor.intake.sorting import Sorter
from monitor.intake.value import SWITCHES, read_value

from_json: Final = parse_pack_json
from_cbor: Final = parse_pack_cbor


def read_records(records: Sequence[Record], plans: tuple[SensorPlan, ...], sorter: Sorter) -> None:
    """Take each record that belongs to a declared channel.

    Raises
    ------
    PayloadError
        If none of them does.
    """
    longest = [record.update_s for record in records if record.update_s is not None]
    sorter.update_s = max(longest, default=None)
    found = sum(_read_sensor(records, plan, sorter) for plan in plans)
    if not found:
        names = ", ".join(sorted({record.name for record in records}))
        raise PayloadError(Reason.NO_CHANNEL, f"no channel for {shown(names)}")


def _read_sensor(records: Sequence[Record], plan: SensorPlan, sorter: Sorter) -> int:
    found = 0
    by_unit: dict[ChannelPlan, set[str]] = {}
    lone = plan.only if len({record.name for record in records}) == 1 else None
    for record in records:
        channel, named = channels_for(record.endings, record.unit, plan)
        if channel is None and record.unit is None and lone in plan.bare:
            channel = lone
        if channel is None and lone is not None and lone in plan.bare:
            channel, named = lone, True  # its unit does not fit, and that is said
        if channel is None:
            continue
        found += 1
        if not named:
            by_unit.setdefault(channel, set()).add(record.name)
        try:
            _take(record, channel, len(by_unit.get(channel, ())), sorter)
        except PayloadError as wrong:
            sorter.refuse(channel, wrong)
    return found


def _take(record: Record, channel: ChannelPlan, names: int, sorter: Sorter) -> None:
    if names > 1:
        raise PayloadError(
            Reason.NO_CHANNEL, f"{shown(record.name)} is the second of its unit: declare its path"
        )
    if record.number is None and record.flag is None and record.text is None:
        if record.total is not None and record.data is None:
            return
        raise PayloadError(Reason.NOT_A_NUMBER, "data where a number belongs")
    if record.text is not None:
        raise PayloadError(Reason.NOT_A_NUMBER, "a text where a number belongs")
    value = record.number if record.flag is None else record.flag
    raw, _ = read_value(value, channel.quantity, _unit(record, channel))
    sorter.take(channel, raw, _time_ms(record, sorter))


def _unit(record: Record, channel: ChannelPlan) -> str:
    """Return the unit to read in: F is farad and % a ratio here, so both are refused."""
    if record.unit is None or channel.quantity in SWITCHES:
        return channel.unit
    quantities, unit = SENML_UNITS.get(record.unit, ((), ""))
    if channel.quantity not in quantities:
        raise PayloadError(Reason.UNIT, f"{shown(record.unit)} is no unit of {channel.quantity}")
    return unit


def _time_ms(record: Record, sorter: Sorter) -> int | None:
    """Return the record's time [ms]; None where it says no more than now.

    A time relative to receipt is the sensor's own only if receipt followed at once.
    """
    if record.time_s == 0 or (record.relative and not sorter.fresh):
        return None
    at_ms = record.utc_s(sorter.received_ms / 1000) * 1000
    if not credible(at_ms, sorter.received_ms):
        raise PayloadError(Reason.TIME, f"a time of {record.time_s:g} s cannot be this reading's")
    return round(at_ms)
