"""Is this a place for this crop at this stage? Told as a batch is put there.

The place's own band says what it keeps. Where that reaches a harm limit of the stage
the batch is *harmed here*: chilled, frozen or cooked, told at once. Where it is only
outside the stage's ideal band the batch lasts less long, or does less well: a note.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import reduce

from monitor.farm import Crop, Farm, Place
from monitor.model import Harm, Ideal, PlaceKind, Quantity, Stage
from monitor.phrase import Phrase
from monitor.units import TemperatureUnit, from_celsius

AIR = Quantity.TEMPERATURE


@dataclass(frozen=True, slots=True)
class Placing:
    """One thing that is wrong with a place for a batch; ``harmful`` is told at once."""

    harmful: bool
    text: str


def say_c(value_c: float, unit: TemperatureUnit) -> str:
    """Return a temperature [°C] in the farm's unit, to a tenth where that says more."""
    return f"{round(from_celsius(value_c, unit), 1):g} °{unit.value}"


def kind_word(kind: PlaceKind) -> Phrase:
    """Return what a kind of place is called."""
    return Phrase(kind.value.replace("_", " "))


def _either(words: Sequence[Phrase]) -> Phrase:
    return reduce(lambda one, other: Phrase("{one} or {other}", one=one, other=other), words)


def judge_placing(farm: Farm, crop: Crop, stage: Stage, place: Place) -> list[Placing]:
    """Return what is wrong with a place for a crop at a stage; harm comes first.

    A place or stage without a temperature band is not judged by it.
    """
    found = [*_temperature(farm, crop, stage, place)]
    if stage.place_kinds and place.kind not in stage.place_kinds:
        kinds = _either([kind_word(kind) for kind in stage.place_kinds])
        found.append(Placing(False, (  # noqa: FBT003 - the field's name says it
            Phrase(
                "{place} is a {kind}; {crop} at {stage} is kept in a {kinds}: is the stage right?",
                place=place.name, kind=kind_word(place.kind), crop=Phrase(crop.name),
                stage=Phrase(stage.name), kinds=kinds,
            )
        )))  # fmt: skip
    return found


def placing(farm: Farm, crop: Crop, stage: Stage, place: Place) -> list[str]:
    """Return what is wrong with a place for a crop at a stage, as lines for people."""
    return [each.text for each in judge_placing(farm, crop, stage, place)]


def _temperature(farm: Farm, crop: Crop, stage: Stage, place: Place) -> list[Placing]:
    kept, wanted = place.bands.get(AIR), stage.bands.get(AIR)
    if kept is None or kept.ideal is None or wanted is None:
        return []
    said = {
        "place": place.name, "kept": _span(kept.ideal, farm.units),
        "crop": Phrase(crop.name), "stage": Phrase(stage.name),
    }  # fmt: skip
    if wanted.harm is not None:
        harm = _harm(kept.ideal, wanted.harm, farm.units)
        if harm is not None:
            text = Phrase(
                "{place} is kept at {kept}: {crop} at {stage} is harmed here ({harm})",
                **said, harm=harm,
            )  # fmt: skip
            return [Placing(harmful=True, text=text)]
    if wanted.ideal is not None and _outside(kept.ideal, wanted.ideal):
        cut = stage.id == "cut_stems"
        text = Phrase(
            "{place} is kept at {kept}: {crop} at {stage} lasts less long here (best at {best})"
            if cut
            else "{place} is kept at {kept}: {crop} at {stage} does less well here "
            "(best at {best})",
            **said,
            best=_span(wanted.ideal, farm.units),
        )
        return [Placing(harmful=False, text=text)]
    return []


def _harm(kept: Ideal, harm: Harm, unit: TemperatureUnit) -> str | None:
    if harm.low is not None and kept.low is not None and kept.low <= harm.low:
        return Phrase("harm at {limit} and below", limit=say_c(harm.low, unit))
    if harm.high is not None and kept.high is not None and kept.high >= harm.high:
        return Phrase("harm at {limit} and above", limit=say_c(harm.high, unit))
    return None


def _outside(kept: Ideal, wanted: Ideal) -> bool:
    too_warm = None not in (kept.high, wanted.high) and (kept.high or 0) > (wanted.high or 0)
    too_cold = None not in (kept.low, wanted.low) and (kept.low or 0) < (wanted.low or 0)
    return too_warm or too_cold


def _span(ideal: Ideal, unit: TemperatureUnit) -> str:
    low = None if ideal.low is None else say_c(ideal.low, unit)
    high = None if ideal.high is None else say_c(ideal.high, unit)
    if low is None or high is None:
        message = Phrase("{limit} or more") if high is None else Phrase("{limit} or less")
        return Phrase(message, limit=low or high)
    return Phrase("{low} to {high}", low=low.split()[0], high=high)
