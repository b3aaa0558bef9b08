"""Places: their bands, their names, and whether what is kept there fits."""

from collections import Counter
from collections.abc import Iterator

from monitor.farm import building
from monitor.farm.blame import show
from monitor.farm.checks import bands
from monitor.farm.declared import Place
from monitor.farm.forms import KindForm, PlaceForm
from monitor.farm.naming import plain
from monitor.farm.problem import Problem
from monitor.farm.sheets import CROPS, FARM, Entry, Sheets
from monitor.model import Ideal, Quantity, Stage
from monitor.units import TemperatureUnit

_AIR = Quantity.TEMPERATURE


def unit_of(sheets: Sheets) -> TemperatureUnit:
    """Return the farm's unit, as far as it could be read."""
    return TemperatureUnit(sheets.farm.units) if sheets.farm else TemperatureUnit.FAHRENHEIT


def problems(sheets: Sheets) -> Iterator[Problem]:
    """Yield what is wrong or doubtful with the places."""
    unit = unit_of(sheets)
    for kind, form in sheets.kinds.items():
        yield from bands.problems(form.bands.built(), CROPS, f"kind.{kind.value}", unit)
    if FARM in sheets.raw and not sheets.written.get("place"):
        yield Problem(
            "warning", FARM, "place", "", "there is no place, so nothing is watched",
            "add a [[place]] for each room, bucket and tunnel",
        )  # fmt: skip
    yield from _names(sheets)
    for entry in sheets.places:
        yield from _one(sheets, entry, unit)


def _names(sheets: Sheets) -> Iterator[Problem]:
    count = Counter(plain(each.form.name) for each in sheets.places)
    for entry in sheets.places:
        if count[plain(entry.form.name)] > 1:
            yield Problem(
                "error", FARM, f"{entry.where}.name", show(entry.form.name),
                "another place has the same name", "a notice names the place: tell them apart",
            )  # fmt: skip


def _one(sheets: Sheets, entry: Entry[PlaceForm], unit: TemperatureUnit) -> Iterator[Problem]:
    place = building.place(entry.form, sheets.kinds.get(entry.form.kind, KindForm()))
    if entry.form.bands is not None:
        yield from bands.problems(place.bands, FARM, entry.where, unit)
    if not place.bands:
        yield Problem(
            "warning", FARM, f"{entry.where}.bands", "", "the place has no band, so nothing is "
            "ever wrong there", f"add bands here, or to kind.{place.kind.value} in {CROPS}",
        )  # fmt: skip
    sensed = {each.form.place for each in sheets.sensors}
    blamed = {problem.key.split("]")[0] for problem in sheets.problems if problem.file == FARM}
    if place.id not in sensed and not any(key.startswith("sensor[") for key in blamed):
        yield Problem(
            "warning", FARM, entry.where, "", "no sensor hangs in this place",
            f'add a [[sensor]] with place = "{place.id}"',
        )  # fmt: skip
    yield from _fits(sheets, place, entry.where, unit)


def _fits(sheets: Sheets, place: Place, where: str, unit: TemperatureUnit) -> Iterator[Problem]:
    """Yield a warning where the place's band harms what is kept in places of its kind."""
    band = place.bands.get(_AIR)
    if band is None or band.ideal is None:
        return
    here = [
        (each.form.name, building.stage(form))
        for each in sheets.crops
        for form in each.form.stage
        if place.kind in form.places
    ]
    hurt = [f"{crop} ({stage.name})" for crop, stage in here if _hurts(band.ideal, stage)]
    if hurt:
        yield _contradiction(where, band.ideal, unit, f"it harms {_few(hurt)}")
    wanted = [limits for _, stage in here if (limits := _ideal(stage)) is not None]
    if wanted and not hurt and all(bands.apart(band.ideal, each) for each in wanted):
        kind = place.kind.value.replace("_", " ")
        yield _contradiction(where, band.ideal, unit, f"no crop wants that of a {kind}")


def _ideal(stage: Stage) -> Ideal | None:
    band = stage.bands.get(_AIR)
    return None if band is None else band.ideal


def _hurts(kept: Ideal, stage: Stage) -> bool:
    band = stage.bands.get(_AIR)
    return band is not None and band.harm is not None and bands.harmed(kept, band.harm)


def _few(names: list[str]) -> str:
    shown = ", ".join(names[:4])
    return shown if len(names) <= 4 else f"{shown} and {len(names) - 4} more"  # noqa: PLR2004 - a line


def _contradiction(where: str, kept: Ideal, unit: TemperatureUnit, what: str) -> Problem:
    low = "…" if kept.low is None else bands.say(kept.low, _AIR, unit)
    high = "…" if kept.high is None else bands.say(kept.high, _AIR, unit)
    return Problem(
        "warning", FARM, f"{where}.bands.temperature.ideal", "",
        f"the place is kept at {low} to {high}, and {what}",
        f"correct the band, or the places and limits of that stage in {CROPS}",
    )  # fmt: skip
