"""The part of a form that changes limits: six figures, each with its grade and source."""

from dataclasses import dataclass

from monitor.errors import UnitError
from monitor.farm.editing.limits import KEYS, normal, order, written
from monitor.model import Band, Quantity
from monitor.phrase import Phrase
from monitor.units import TemperatureUnit
from monitor.web.settings.typed import Typed
from monitor.web.words import GRADES, quantity_name

_AT_MOST = 20
_HOW_LONG = Phrase("say how long it may last, as 45 min; 0 min tells at once")


@dataclass(frozen=True, slots=True)
class BandForm:
    """The limits of one quantity as a form shows them; ``now`` by key, as they are written."""

    form: str
    name: str
    now: dict[str, str]
    ideal_source: str
    harm_source: str


def band_form(quantity: Quantity, band: Band, unit: TemperatureUnit) -> BandForm:
    """Return what the form of one quantity shows."""
    ideal, harm = band.ideal, band.harm
    return BandForm(
        quantity.value,
        quantity_name(quantity),
        _shown(written(band, quantity, unit)),
        Phrase("{source} ({grade})", source=ideal.source, grade=GRADES[ideal.grade])
        if ideal
        else Phrase("none yet"),
        Phrase("{source} ({grade})", source=harm.source, grade=GRADES[harm.grade])
        if harm
        else Phrase("none yet"),
    )


def _shown(texts: dict[str, str]) -> dict[str, str]:
    """Return limits with the sign of a degree, as people write it."""
    found = dict.fromkeys(KEYS, "")
    for key, text in texts.items():
        warm = not key.startswith("tolerated") and text[-1] in "CFK"
        found[key] = f"{text[:-1]}°{text[-1]}" if warm else text
    return found


def limits_typed(
    typed: Typed, quantity: Quantity, band: Band, unit: TemperatureUnit
) -> dict[str, str | None]:
    """Return the limits that were touched, as they are written; mistakes are kept in the form."""
    touched: dict[str, str | None] = {}
    for key in KEYS:
        if typed.touched(key):
            touched[key] = _read(typed, key, quantity, unit)
    before = written(band, quantity, unit)
    after = {key: each for key, each in {**before, **touched}.items() if each is not None}
    for key, sentence in order(after, quantity).items() if not typed.wrong else ():
        typed.refuse(key, sentence)
    for side in ("low", "high"):
        harm, tolerated = f"harm.{side}", f"tolerated.{side}"
        if harm in after and tolerated not in after and {harm, tolerated} & set(touched):
            typed.refuse(tolerated, _HOW_LONG)
        elif harm in touched and harm not in after and tolerated in after:
            touched[tolerated] = None  # what is no limit any more is tolerated for no time
    return touched


def _read(typed: Typed, key: str, quantity: Quantity, unit: TemperatureUnit) -> str | None:
    text = typed.text(key, _AT_MOST)
    if not text or key in typed.wrong:
        return None
    try:
        return normal(key, text, quantity, unit)
    except UnitError as failure:
        typed.refuse(key, str(failure))
        return None
