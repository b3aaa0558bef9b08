"""Crops: their stages, times and bands."""

from collections import Counter
from collections.abc import Iterator

from monitor.farm.checks import bands
from monitor.farm.checks.places import unit_of
from monitor.farm.forms import StageForm
from monitor.farm.problem import Problem
from monitor.farm.sheets import CROPS, Sheets


def problems(sheets: Sheets) -> Iterator[Problem]:
    """Yield what is wrong or doubtful with the crops."""
    unit = unit_of(sheets)
    for entry in sheets.crops:
        count = Counter(stage.id for stage in entry.form.stage)
        for stage in entry.form.stage:
            where = f"{entry.where}.stage[{stage.id}]"
            yield from _times(stage, where)
            yield from bands.problems(stage.bands.built(), CROPS, where, unit)
        for name, times in count.items():
            if times > 1:
                yield Problem(
                    "error", CROPS, f"{entry.where}.stage[{name}].id", "",
                    f"{times} stages have the id {name}", "give each stage an id of its own",
                )  # fmt: skip


def _days(seconds: float) -> str:
    return f"{seconds / 3600:g} h" if seconds < 172_800 else f"{seconds / 86_400:g} d"  # noqa: PLR2004 - two days


def _times(stage: StageForm, where: str) -> Iterator[Problem]:
    least, longest = stage.least, stage.longest
    if least is not None and longest is not None and least > longest:
        yield Problem(
            "error", CROPS, f"{where}.least", _days(least),
            f"the least time is more than the longest ({_days(longest)})",
            "exchange or correct them",
        )  # fmt: skip
    if stage.late_harms and longest is None:
        yield Problem(
            "error", CROPS, f"{where}.late_harms", "true", "lateness harms, and no longest time "
            "is given", 'add longest = "…"',
        )  # fmt: skip
    if longest is not None and stage.tell_before >= longest:
        yield Problem(
            "error", CROPS, f"{where}.tell_before", _days(stage.tell_before),
            f"that is as long as the longest time ({_days(longest)}), so it would be told at once",
            "make it shorter",
        )  # fmt: skip
    if (least is not None or longest is not None) and not (stage.time_grade and stage.time_source):
        yield Problem(
            "error", CROPS, f"{where}.time_grade", "", "the times have no grade or no source",
            'add time_grade (P, E, G, CP, ? or farm) and time_source = "…"',
        )  # fmt: skip
