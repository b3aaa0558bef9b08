"""Settings of a crop's stages: their least and longest time, and their limits."""

from typing import Final

from fastapi import APIRouter, Response
from fastapi.responses import HTMLResponse

from monitor.errors import UnknownNameError
from monitor.farm import Crop
from monitor.farm.editing import change_stage_limits, set_stage
from monitor.farm.editing.limits import LIMITED, LONG_S, say_duration, written
from monitor.model import Band, Quantity, Stage
from monitor.phrase import Phrase
from monitor.units import parse_duration_s
from monitor.web.look import Look
from monitor.web.rendering import Here, Pages
from monitor.web.settings.bands_form import band_form, limits_typed
from monitor.web.settings.changing import change, made, shown
from monitor.web.settings.typed import Sent, Typed
from monitor.web.words import GRADES

_TIMES: Final = ("least", "longest", "tell_before")

router = APIRouter(include_in_schema=False, default_response_class=HTMLResponse)


@router.get("/settings/crops/{crop_id}/{stage_id}")
def one(pages: Here, crop_id: str, stage_id: str, *, done: bool = False) -> Response:
    """Show one stage of a crop."""
    return _page(pages, Typed(), crop_id, stage_id, done=done)


@router.post("/settings/crops/{crop_id}/{stage_id}")
def edit(pages: Here, crop_id: str, stage_id: str, typed: Sent) -> Response:
    """Change a stage's times, or the limits of one quantity."""
    look = pages.look()
    crop, stage = _known(look, crop_id, stage_id)
    limited = typed.form in {each.value for each in LIMITED}
    if (_limits if limited else _times)(pages, look, crop, stage, typed):
        return made(f"/settings/crops/{crop.id}/{stage.id}")
    return _page(pages, typed, crop_id, stage_id)


def _known(look: Look, crop_id: str, stage_id: str) -> tuple[Crop, Stage]:
    crop = look.farm.crops.get(crop_id)
    if crop is None or stage_id not in crop.stages:
        raise UnknownNameError(Phrase("There is no such step of a crop on this farm now."))
    return crop, crop.stages[stage_id]


def _limits(pages: Pages, look: Look, crop: Crop, stage: Stage, typed: Typed) -> bool:
    quantity = Quantity(typed.form)
    band, unit = stage.bands.get(quantity, Band()), look.farm.units
    touched = limits_typed(typed, quantity, band, unit)
    by, why = typed.by, typed.why
    if not touched:
        typed.refuse("", Phrase("nothing is different from what it was"))
    for key, text in touched.items() if not typed.wrong else ():
        if key.startswith("tolerated") and text and parse_duration_s(text) > LONG_S:
            typed.ask(
                Phrase(
                    "{name}, {stage}: it could last {text} before anybody is told.",
                    name=crop.name,
                    stage=Phrase(stage.name),
                    text=text,
                )
            )
        if key.startswith("harm") and text is None:
            typed.ask(
                Phrase(
                    "{name}, {stage}: nothing would be harm there any more.",
                    name=crop.name,
                    stage=Phrase(stage.name),
                )
            )
    before = written(band, quantity, unit)
    made_by = change_stage_limits(
        crop.id, stage.id, quantity, touched, before, f"set by {by}: {why}"
    )
    return change(
        pages,
        typed,
        [made_by],
        Phrase("{name}, {stage}: {why}", name=crop.name, stage=Phrase(stage.name), why=why),
    )


def _times(pages: Pages, look: Look, crop: Crop, stage: Stage, typed: Typed) -> bool:
    del look
    spans = {key: typed.read(key, parse_duration_s) for key in _TIMES}
    values = {
        key: None if spans[key] is None else say_duration(spans[key] or 0)
        for key in _TIMES
        if typed.touched(key)
    }
    least_s, longest_s = spans["least"], spans["longest"]
    if least_s is not None and longest_s is not None and longest_s < least_s:
        typed.refuse("longest", Phrase("that is shorter than the least time"))
    by, why = typed.by, typed.why
    if not values:
        typed.refuse("", Phrase("nothing is different from what it was"))
    source = f"set by {by}: {why}"
    changes = [set_stage(crop.id, stage.id, values, source)]
    return change(
        pages,
        typed,
        changes,
        Phrase("{name}, {stage}: {why}", name=crop.name, stage=Phrase(stage.name), why=why),
    )


def _page(
    pages: Pages, typed: Typed, crop_id: str, stage_id: str, *, done: bool = False
) -> Response:
    look = pages.look()
    crop, stage = _known(look, crop_id, stage_id)
    spans = {
        "least": stage.least_s, "longest": stage.longest_s,
        "tell_before": stage.tell_before_s or None,
    }  # fmt: skip
    source = (
        Phrase("{source} ({grade})", source=stage.time_source, grade=GRADES[stage.time_grade])
        if stage.time_source
        else Phrase("none")
    )
    return shown(
        pages, look, "stage.html", "/settings", typed, done=done, crop=crop, stage=stage,
        now={key: "" if each is None else say_duration(each) for key, each in spans.items()},
        bands=[
            band_form(each, stage.bands.get(each, Band()), look.farm.units)
            for each in LIMITED
            if each in stage.bands or each is Quantity.TEMPERATURE
        ],
        source=source, action=f"/settings/crops/{crop.id}/{stage.id}",
    )  # fmt: skip
