"""What a form of a batch, or an item of a phone's queue, gives: words by their names."""

from collections.abc import Mapping
from typing import Annotated, Any, Final

from pydantic import BaseModel, BeforeValidator, Field

from monitor.units import TemperatureUnit
from monitor.web.asking import Form
from monitor.web.visitor import ACTING

VERBS: Final[Mapping[str, str]] = {
    "look": "observe", "hold": "observe", "move": "move", "harvest": "harvest", "out": "out",
    "add": "add", "undo": "undo",
}  # fmt: skip
"""The pages by what they stand for in the commands."""
CLASSES: Final[Mapping[str, tuple[str, ...]]] = {
    "in": ("0", "0.25", "0.5", "0.75", "1", "1.25", "1.5"),
    "mm": ("0", "5", "10", "15", "20", "25", "30"),
}
"""Lengths of roots to tap, by their unit: each that a corm's roots reach. [in], [mm]"""
MOST_TAPPED: Final = 500
_EVER_MS: Final = 2**53
AGE_AT_MOST_MS: Final = 400 * 86_400_000
"""An entry that waited for longer is no entry of a phone without signal. [ms]"""
_OURS: Final = frozenset({"pad", "at_day", "rough"})
_COUNTED: Final = ("stems", "count")


class Words(BaseModel):
    """Every word that a form may give; a blank one was not given.

    ``rough`` says that what was counted was not counted one by one, ``pad`` is how many
    corms were tapped for each class of length, ``at_day`` a date and time by the farm's clock.
    """

    batch: str = ""
    crop: str = ""
    cultivar: str = ""
    place: str = ""
    to: str = ""
    stage: str = ""
    count: str = ""
    stems: str = ""
    sold: str = ""
    used: str = ""
    given: str = ""
    culled: str = ""
    bunches_of: str = ""
    supplier: str = ""
    lot: str = ""
    grade: str = ""
    received: str = ""
    rotten: str = ""
    roots: str = ""
    mould: str = ""
    softness: str = ""
    moisture: str = ""
    culls: str = ""
    all_fine: str = ""
    held_for: str = ""
    entry: str = ""
    note: str = ""
    at: str = ""
    at_day: str = ""
    rough: str = ""
    pad: list[str] = []

    def typed(self) -> dict[str, Any]:
        """Return every word as it was typed, for the form to show again."""
        return {name: getattr(self, name) for name in Words.model_fields}

    def said(self, units: TemperatureUnit) -> dict[str, str]:
        """Return the words that were given, as the commands call them."""
        texts = {k: v.strip() for k, v in self.typed().items() if k not in _OURS and v.strip()}
        for each in _COUNTED if self.rough.strip() else ():
            if texts.get(each, "").isdecimal():
                texts[each] = f"about {texts[each]}"
        tapped = self._tapped(units)
        if tapped:
            texts["roots"] = f"{texts['roots']} {tapped}" if "roots" in texts else tapped
        if self.at_day.strip():
            day = self.at_day.strip()
            texts["at"] = f"{texts['at']} and {day}" if "at" in texts else day
        return texts

    def _tapped(self, units: TemperatureUnit) -> str:
        unit = length_unit(units)
        tapped = zip(CLASSES[unit], self.pad, strict=False)
        lengths = [length for length, times in tapped for _ in range(_times(times))]
        return f"{' '.join(lengths)} {unit}" if lengths else ""


def _times(text: str) -> int:
    plain = text.strip()
    return min(int(plain), MOST_TAPPED) if plain.isascii() and plain.isdecimal() else 0


def length_unit(units: TemperatureUnit) -> str:
    """Return what roots are measured in where temperatures are told in these units."""
    return "in" if units is TemperatureUnit.FAHRENHEIT else "mm"


def _writer(given: object) -> object:
    return ACTING.get() or given


class Posted(Form, Words):
    """What a form sends; ``token`` was made with the form."""

    token: str = Field("", max_length=80)
    by: Annotated[str, BeforeValidator(_writer)] = Field("", validate_default=True, max_length=300)


class Item(BaseModel):
    """What a phone's queue sends.

    ``age_ms`` is how long ago it was written down, by the phone's own reckoning, so that a
    phone's clock that is wrong dates nothing wrongly. ``seen_ms`` is the farm's time on the
    page that it was written on: nothing was written before, and a clock that was changed
    meanwhile is noticed.
    """

    verb: str = Field(max_length=20)
    token: str = Field(min_length=16, max_length=80)
    by: str = Field("", max_length=300)
    age_ms: int = Field(0, ge=-AGE_AT_MOST_MS, le=AGE_AT_MOST_MS)
    seen_ms: int = Field(0, ge=0, le=_EVER_MS)
    words: Words = Words()
