"""Kinds of values in the files: quantities are texts with their unit."""

import re
from collections.abc import Callable
from datetime import date, datetime, time
from typing import Annotated, Any, Literal

from pydantic import (
    AfterValidator,
    BaseModel,
    BeforeValidator,
    ConfigDict,
    Field,
    StringConstraints,
)

from monitor.errors import UnitError
from monitor.model import Grade, PlaceKind, Quantity
from monitor.units import (
    parse_duration_s,
    parse_length_mm,
    parse_percent,
    parse_temperature_c,
)


class Form(BaseModel):
    """A table of a file: nothing unknown, nothing guessed, nothing shown in errors."""

    model_config = ConfigDict(
        extra="forbid", strict=True, frozen=True, hide_input_in_errors=True,
        arbitrary_types_allowed=True,
    )  # fmt: skip


def _read_by(parse: Callable[[str], float], example: str) -> BeforeValidator:
    def read(value: Any) -> float:  # noqa: ANN401 - whatever the file holds
        if not isinstance(value, str):
            raise ValueError(f"a text with its unit is wanted here, as {example}")  # noqa: TRY004
        return parse(value)

    return BeforeValidator(read)


_SIGNED = re.compile(r"\s*([+-]?\d+(?:\.\d+)?)\s*(?:°\s*)?([CFK%])\s*", re.ASCII)


def parse_difference(text: str) -> float:
    """Read ``"-0.4 F"``, ``"0.3 C"`` or ``"1.5 %"`` as a difference: no offset. [K] or [%]

    Raises
    ------
    UnitError
        If the text carries no unit or no number.
    """
    found = _SIGNED.fullmatch(text)
    if found is None:
        raise UnitError(f"{text!r} is no difference: write it with its unit, as -0.4 F or 1.5 %")
    return float(found[1]) / (1.8 if found[2] == "F" else 1.0)


def _clock(value: Any) -> time:  # noqa: ANN401 - whatever the file holds
    if isinstance(value, time):
        return value
    if not isinstance(value, str) or not re.fullmatch(r"([01]\d|2[0-3]):[0-5]\d", value):
        raise ValueError('a time of day is wanted here, as "07:00"')
    return time.fromisoformat(value)


def _moment(value: Any) -> datetime:  # noqa: ANN401 - whatever the file holds
    """Return a date or time as written; without a zone it is the farm's."""
    if isinstance(value, str):
        value = datetime.fromisoformat(value)
    if isinstance(value, datetime):
        return value
    if isinstance(value, date):
        return datetime.combine(value, time())
    raise ValueError("a date is wanted here, as 2026-03-14")


def _id(text: str) -> str:
    if not re.fullmatch(r"[a-z0-9]+(?:[-_][a-z0-9]+)*", text):
        raise ValueError("an id is small letters and figures with hyphens, as walk-in-cooler")
    return text


def _printable(text: str) -> str:
    if not text.isprintable():
        raise ValueError("a control character stands in it: take it out")
    return text


def _topic(text: str) -> str:
    if "+" in text or "#" in text:
        raise ValueError("a sensor's topic is one topic: the wildcards + and # cannot stand in it")
    return _filter(text)


def _filter(text: str) -> str:
    levels = text.split("/")
    if not text or "\0" in text or len(text.encode()) > 65_535:  # noqa: PLR2004 - MQTT 5, 4.7.3
        raise ValueError("a topic has 1 to 65535 bytes, and no zero byte")
    if any("+" in level and level != "+" for level in levels):
        raise ValueError("+ stands for one whole level of a topic, as farm/+/temperature")
    if any("#" in level and (level != "#" or level is not levels[-1]) for level in levels):
        raise ValueError("# stands alone, at the end of a topic, as farm/#")
    return text


Temperature = Annotated[float, _read_by(parse_temperature_c, '"36 F" or "2.2 C"')]
Percent = Annotated[float, _read_by(parse_percent, '"95 %"')]
Difference = Annotated[float, _read_by(parse_difference, '"0.5 F" or "2 %"')]
Duration = Annotated[float, _read_by(parse_duration_s, '"45 min"')]
Length = Annotated[float, _read_by(parse_length_mm, '"1 in" or "25 mm"')]
Clock = Annotated[time, BeforeValidator(_clock)]
Moment = Annotated[datetime, BeforeValidator(_moment)]
Id = Annotated[str, Field(max_length=64), BeforeValidator(lambda text: _id(str(text)))]
Topic = Annotated[str, BeforeValidator(lambda text: _topic(str(text)))]
Filter = Annotated[str, BeforeValidator(lambda text: _filter(str(text)))]
Language = Literal["en", "es"]
Text = Annotated[
    str,
    StringConstraints(min_length=1, max_length=500, strip_whitespace=True),
    AfterValidator(_printable),
]
OneGrade = Annotated[Grade, Field(strict=False)]
OneQuantity = Annotated[Quantity, Field(strict=False)]
OneKind = Annotated[PlaceKind, Field(strict=False)]
Port = Annotated[int, Field(ge=1, le=65_535)]
