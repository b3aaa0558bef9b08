"""Where a batch may be planted out: soil, coming heat, and tonight's frost under covers.

What is missing is a doubt only where it could change the answer: soil that is not
measured matters where the air has been warm enough to heat it, an outlook for tonight
where the last nights came near the limit.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from math import erf, sqrt
from typing import Final

from monitor.batches.verdict import Pull, Reason
from monitor.batches.voice import Voice, percent
from monitor.model import Harm
from monitor.phrase import Phrase

SOIL_HOT_C: Final = 21.0  # cautious farm setting, from memory; growers' word that it kills
SOIL_FROZEN_C: Final = 0.0
_NEAR_K: Final = 6.0  # how much one night, or one day, may differ from the last three
_LIKELY: Final = 0.1
_ALL_BUT_SURE: Final = 0.5
COVER_WORDS: Final = {
    "light": Phrase("light"), "heavy": Phrase("heavy"), "inner": Phrase("inner"),
}  # fmt: skip
COVERS: Final = {"none": 0.0, "light": 1.0, "heavy": 3.0, "inner": 5.0}
"""What a cover holds back at least [K]: light 1 to 2, heavy about 3, an inner plastic layer
5 or more (extension)."""


@dataclass(frozen=True, slots=True)
class Tonight:
    """The least air of the coming night with its spread [°C], [K], and who says so."""

    least_c: float
    sd_k: float
    by: str

    def chance_under(self, limit_c: float) -> float:
        """Return the chance, 0 to 1, of a limit [°C] or less."""
        return 0.5 * (1.0 + erf((limit_c - self.least_c) / (self.sd_k * sqrt(2.0))))


@dataclass(frozen=True, slots=True)
class Site:
    """A place to plant out into, as far as it is known. [°C]

    ``low_c`` and ``high_c`` are the air's extremes of the last three days; ``heat_c`` the
    coming days' highest air; ``cover`` names a cover of `COVERS`, None where the farm has
    not said. ``stage`` and ``harm`` are the next stage's name and limits of the air.
    """

    name: str
    stage: str
    harm: Harm | None = None
    soil_c: float | None = None
    low_c: float | None = None
    high_c: float | None = None
    tonight: Tonight | None = None
    heat_c: float | None = None
    cover: str | None = None

    @property
    def cover_k(self) -> float:
        """Return what its cover holds back at least. [K]"""
        return COVERS[self.cover] if self.cover else 0.0


def site_reasons(site: Site, voice: Voice) -> tuple[list[Reason], str | None]:
    """Return what a site says for and against planting now, and the condition it sets."""
    frost, condition = _frost(site, voice)
    return [*_soil(site, voice), *_heat(site, voice), *frost], condition


def _soil(site: Site, voice: Voice) -> Iterator[Reason]:
    soil_c = site.soil_c
    if soil_c is None:
        if site.high_c is None or site.high_c >= SOIL_HOT_C:
            seen = (
                ""
                if site.high_c is None
                else Phrase(", and its air was up to {up}", up=_up(site, voice))
            )
            yield Reason(
                "soil", Pull.DOUBT,
                Phrase("The soil of {name} is not measured{seen}: feel it first, for hot soil "
"kills more than a light frost.", name=site.name, seen=seen),
            )  # fmt: skip
        return
    figures = {"place": site.name, "soil_c": soil_c}
    said = Phrase("{name} soil {degrees}", name=site.name, degrees=voice.degrees(soil_c))
    if soil_c >= SOIL_HOT_C:
        hot = Phrase(
            "{said}: over {degrees} it kills more than a light frost.",
            said=said,
            degrees=voice.degrees(SOIL_HOT_C),
        )
        yield Reason("soil", Pull.WAIT, hot, figures)
    elif soil_c <= SOIL_FROZEN_C:
        yield Reason("soil", Pull.WAIT, Phrase("{said}: it is frozen.", said=said), figures)
    else:
        yield Reason("soil", Pull.FOR, Phrase("{said}.", said=said), figures)


def _up(site: Site, voice: Voice) -> str:
    return voice.degrees(site.high_c or 0.0)


def _heat(site: Site, voice: Voice) -> Iterator[Reason]:
    limit_c = site.harm.high if site.harm else None
    if limit_c is None:
        return
    if site.heat_c is not None:
        figures = {"place": site.name, "heat_c": site.heat_c, "limit_c": limit_c}
        said = Phrase(
            "{name} air up to {degrees} in the coming days",
            name=site.name,
            degrees=voice.degrees(site.heat_c),
        )
        if site.heat_c >= limit_c:
            shuts = Phrase(
                "{said}: over {degrees}, harm at {stage}.",
                said=said,
                degrees=voice.degrees(limit_c),
                stage=Phrase(site.stage),
            )
            yield Reason("heat", Pull.WAIT, shuts, figures)
        elif site.heat_c >= limit_c - _NEAR_K:
            yield Reason(
                "heat", Pull.FOR, Phrase("{said}, under the harm limit.", said=said), figures
            )
    elif site.high_c is not None and site.high_c >= limit_c - _NEAR_K:
        yield Reason(
            "heat",
            Pull.DOUBT,
            Phrase(
                "{name} was up to {up} in the last three days, and no forecast of the "
                "coming heat is known: {degrees} harms at {stage}.",
                name=site.name,
                up=_up(site, voice),
                degrees=voice.degrees(limit_c),
                stage=Phrase(site.stage),
            ),
            {"place": site.name, "high_c": site.high_c, "limit_c": limit_c},
        )


def _least(tonight: Tonight, voice: Voice) -> str:
    low = voice.degrees(tonight.least_c)
    return Phrase("about {degrees} at its least ({by})", degrees=low, by=tonight.by)


def _frost(site: Site, voice: Voice) -> tuple[list[Reason], str | None]:
    limit_c = site.harm.low if site.harm else None
    if limit_c is None:
        return [], None
    if site.tonight is None:
        return list(_no_outlook(site, limit_c, voice)), None
    open_air = site.tonight.chance_under(limit_c)
    covered = site.tonight.chance_under(limit_c - site.cover_k)
    figures = {
        "place": site.name, "limit_c": limit_c, "chance": open_air, "least_c": site.tonight.least_c,
        "chance_under_cover": covered if site.cover else None, "cover": site.cover,
    }  # fmt: skip
    said = Phrase(
        "{percent} chance of {degrees} air in {name} tonight",
        percent=percent(open_air), degrees=voice.degrees(limit_c), name=site.name,
    )  # fmt: skip
    stage, cover = Phrase(site.stage), COVER_WORDS.get(site.cover or "", "")
    if open_air < _LIKELY:
        least = _least(site.tonight, voice)
        text = Phrase(
            "No frost that harms is likely in {name} tonight: {least}.", name=site.name, least=least
        )
        return [Reason("frost", Pull.FOR, text, figures)], None
    if site.cover_k and covered < _LIKELY:
        text = Phrase(
            "{said}; under the {cover} cover that is no harm at {stage}.",
            said=said, cover=cover, stage=stage,
        )  # fmt: skip
        return [Reason("frost", Pull.FOR, text, figures)], Phrase("under cover")
    if site.cover_k:
        text = Phrase(
            "{said}, and {percent} even under the {cover} cover: harm.",
            said=said, percent=percent(covered), cover=cover,
        )  # fmt: skip
        return [Reason("frost", Pull.WAIT, text, figures)], None
    pull = Pull.WAIT if open_air >= _ALL_BUT_SURE else Pull.DOUBT
    text = Phrase(
        "{said} is harm at {stage}: cover it, or plant after the cold.", said=said, stage=stage
    )
    return [Reason("frost", pull, text, figures)], None


def _no_outlook(site: Site, limit_c: float, voice: Voice) -> Iterator[Reason]:
    if site.low_c is not None and site.low_c > limit_c + _NEAR_K:
        return
    seen = Phrase("its nights are not known")
    if site.low_c is not None:
        seen = Phrase(
            "it fell to {degrees} in the last three days", degrees=voice.degrees(site.low_c)
        )
    yield Reason(
        "frost",
        Pull.DOUBT,
        Phrase(
            "No outlook for tonight in {name}, and {seen}: {degrees} harms at {stage}.",
            name=site.name,
            seen=seen,
            degrees=voice.degrees(limit_c),
            stage=Phrase(site.stage),
        ),
        {"place": site.name, "low_c": site.low_c, "limit_c": limit_c},
    )
