"""Is a band sound in itself, and does it fit what is kept in it?"""

from collections.abc import Iterator, Mapping
from typing import Final

from monitor.farm.problem import Problem
from monitor.model import Band, Harm, Ideal, Quantity
from monitor.units import TemperatureUnit, from_celsius

_PERCENT: Final = (Quantity.HUMIDITY, Quantity.BATTERY)
_COLDEST_C: Final = -50.0
_HOTTEST_C: Final = 70.0
_MOST_PCT: Final = 100.0


def say(value: float, quantity: Quantity, unit: TemperatureUnit) -> str:
    """Return a limit in the farm's unit, as ``36 °F`` or ``95 %``."""
    if quantity in _PERCENT:
        return f"{value:g} %"
    return f"{round(from_celsius(value, unit), 1):g} °{unit.value}"


def problems(
    bands: Mapping[Quantity, Band], file: str, where: str, unit: TemperatureUnit
) -> Iterator[Problem]:
    """Yield what is wrong with the bands of a place, kind or stage.

    Parameters
    ----------
    bands : mapping
        The bands as they are judged by.
    file, where : str
        The file, and the path of the table they belong to.
    unit : TemperatureUnit
        The farm's unit, for the messages.
    """
    for quantity, band in bands.items():
        for key, message, remedy in _wrong(band, quantity, unit):
            path = f"{where}.bands.{quantity.value}{key}"
            yield Problem("error", file, path, "", message, remedy)
        if band.harm is not None and _sudden(band.harm):
            yield Problem(
                "warning", file, f"{where}.bands.{quantity.value}.harm.tolerated", "",
                "no time is tolerated, so a single reading wakes someone",
                'add tolerated = "45 min", longer than a door or a defrost takes',
            )  # fmt: skip


def _sudden(harm: Harm) -> bool:
    low = harm.low is not None and harm.tolerated_low_s <= 0
    return low or (harm.high is not None and harm.tolerated_high_s <= 0)


def _wrong(band: Band, quantity: Quantity, unit: TemperatureUnit) -> Iterator[tuple[str, str, str]]:
    for key, limits in ((".ideal", band.ideal), (".harm", band.harm)):
        if limits is None:
            continue
        yield from _order(key, limits, quantity, unit)
        for side, value in (("low", limits.low), ("high", limits.high)):
            if value is not None and _absurd(value, quantity):
                message = f"{say(value, quantity, unit)} is no limit for flowers"
                yield f"{key}.{side}", message, "is it in the right unit? Correct it"
    if band.ideal is not None and band.harm is not None:
        yield from _nesting(band.ideal, band.harm, quantity, unit)


def _order(
    key: str, limits: Ideal | Harm, quantity: Quantity, unit: TemperatureUnit
) -> Iterator[tuple[str, str, str]]:
    low, high = limits.low, limits.high
    if low is not None and high is not None and low >= high:
        said = f"low ({say(low, quantity, unit)}) is not below high ({say(high, quantity, unit)})"
        yield key, said, "exchange or correct them"
    if low is None and high is None and isinstance(limits, Ideal):
        yield key, "there is no limit in it", "add low, high or both"


def _absurd(value: float, quantity: Quantity) -> bool:
    if quantity in _PERCENT:
        return value > _MOST_PCT
    return not _COLDEST_C <= value <= _HOTTEST_C


def _nesting(
    ideal: Ideal, harm: Harm, quantity: Quantity, unit: TemperatureUnit
) -> Iterator[tuple[str, str, str]]:
    remedy = "move one of them: drift comes first, and harm lies farther out"
    if ideal.low is not None and harm.low is not None and ideal.low <= harm.low:
        yield ".ideal.low", _beyond(ideal.low, harm.low, quantity, unit), remedy
    if ideal.high is not None and harm.high is not None and ideal.high >= harm.high:
        yield ".ideal.high", _beyond(ideal.high, harm.high, quantity, unit), remedy


def _beyond(ideal: float, harm: float, quantity: Quantity, unit: TemperatureUnit) -> str:
    return (
        f"the ideal limit {say(ideal, quantity, unit)} is at or beyond the harm limit "
        f"{say(harm, quantity, unit)}"
    )


def harmed(kept: Ideal, harm: Harm) -> bool:
    """Return whether a place that keeps its ideal band reaches a harm limit of a stage."""
    chilled = kept.low is not None and harm.low is not None and kept.low <= harm.low
    return chilled or (kept.high is not None and harm.high is not None and kept.high >= harm.high)


def apart(kept: Ideal, wanted: Ideal) -> bool:
    """Return whether two ideal bands have no value in common."""
    below = kept.high is not None and wanted.low is not None and kept.high < wanted.low
    return below or (kept.low is not None and wanted.high is not None and kept.low > wanted.high)
