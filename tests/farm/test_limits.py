"""Changing some limits: what is not touched keeps its own words; what is dangerous is asked."""

import pytest

from monitor.errors import UnitError
from monitor.farm.editing import Change, change_limits, change_stage_limits, save
from monitor.farm.editing.limits import Touched, dangers, normal, order, written
from monitor.model import Band, Quantity
from monitor.units import TemperatureUnit
from tests.farm.folders import Folder
from tests.farm.test_editing import changed_lines

AIR, DAMP = Quantity.TEMPERATURE, Quantity.HUMIDITY
F, C = TemperatureUnit.FAHRENHEIT, TemperatureUnit.CELSIUS


def limits(folder: Folder, place: str, touched: Touched, quantity: Quantity = AIR) -> Change:
    """Return the change of a place's limits as it stands now."""
    band = folder.load().places[place].bands.get(quantity, Band())
    return change_limits(place, quantity, touched, written(band, quantity, F), "set by Ida: seal")


def test_limits_of_a_kind_become_whole_ones_of_the_place(folder: Folder) -> None:
    """A place that had those of its kind keeps the three that were not touched."""
    before = folder.load().places["dry-store"].bands[AIR].harm
    change = limits(folder, "dry-store", {"harm.high": "80 F"})
    gone, new = changed_lines(folder, change)
    assert gone == []
    band = folder.load().places["dry-store"].bands[AIR]
    assert band.harm is not None
    assert before is not None
    assert band.harm.high == pytest.approx((80 - 32) / 1.8)
    assert band.harm.low == pytest.approx(before.low)
    assert (band.harm.tolerated_low_s, band.harm.tolerated_high_s) == (
        before.tolerated_low_s, before.tolerated_high_s,
    )  # fmt: skip
    assert (band.harm.grade.value, band.harm.source) == ("farm", "set by Ida: seal")
    assert not any(line.startswith("ideal") for line in new)


def test_own_limits_change_in_their_own_line_only(folder: Folder) -> None:
    """The second change of a place touches one figure, and the other keeps how it was written."""
    save(folder.path, [limits(folder, "dry-store", {"harm.high": "26.5 C"})])
    gone, new = changed_lines(folder, limits(folder, "dry-store", {"harm.low": "33 F"}))
    assert len(gone) == len(new) == 1
    assert '"26.5 C"' in new[0]
    assert '"33 F"' in new[0]


def test_ending_both_harm_limits_ends_those_of_the_kind_too(folder: Folder) -> None:
    """None on both sides is no limit at all, not the kind's again."""
    touched = {"harm.low": None, "harm.high": None, "tolerated.low": None, "tolerated.high": None}
    save(folder.path, [limits(folder, "walk-in-cooler", touched)])
    assert folder.load().places["walk-in-cooler"].bands[AIR].harm is None


def test_a_stage_changes_in_the_crops_file(folder: Folder) -> None:
    """One limit of a stage is changed, and what a stage never had can be added."""
    stage = folder.load().crops["ranunculus"].stages["cut_stems"]
    before = written(stage.bands[AIR], AIR, F)
    change = change_stage_limits(
        "ranunculus", "cut_stems", AIR, {"harm.high": "44 F"}, before, "set by Ida: tried"
    )
    gone, new = changed_lines(folder, change)
    assert len(gone) == len(new) == 1
    added = change_stage_limits(
        "ranunculus", "received", AIR, {"ideal.high": "60 F"}, {}, "set by Ida: tried"
    )
    save(folder.path, [added])
    ideal = folder.load().crops["ranunculus"].stages["received"].bands[AIR].ideal
    assert ideal is not None
    assert ideal.low is None
    assert ideal.high == pytest.approx((60 - 32) / 1.8)


@pytest.mark.parametrize(
    ("key", "typed", "quantity", "said"),
    [
        ("harm.high", "43", AIR, "43 F"), ("harm.high", "43F", AIR, "43 F"),
        ("harm.high", " 43.5 °F ", AIR, "43.5 F"), ("harm.high", "6,1 c", AIR, "6.1 C"),
        ("harm.low", "-2", AIR, "-2 F"), ("ideal.high", "95", DAMP, "95 %"),
        ("tolerated.high", "45", AIR, "45 min"), ("tolerated.high", "2 h", AIR, "2 h"),
        ("tolerated.high", "0 min", AIR, "0 s"), ("tolerated.low", "90 min", AIR, "90 min"),
    ],
)  # fmt: skip
def test_what_is_typed_is_understood(key: str, typed: str, quantity: Quantity, said: str) -> None:
    """A bare figure is in the farm's unit or in minutes; a decimal comma is a point."""
    assert normal(key, typed, quantity, F) == said


@pytest.mark.parametrize("typed", ["warm", "4 3", "43 X", "", "1.2.3", "43 %", "nan"])
def test_what_is_no_figure_is_refused(typed: str) -> None:
    """A word, two figures or a foreign unit are no limit."""
    with pytest.raises(UnitError, match="is no temperature: write it with its unit"):
        normal("harm.high", typed, AIR, C)


def test_what_stands_the_wrong_way_round_is_named() -> None:
    """Low is under high, whatever the units."""
    assert order({"harm.low": "5 C", "harm.high": "40 F"}, AIR) == {
        "harm.high": "40 F is not above 5 C"
    }
    assert order({"harm.low": "33 F", "harm.high": "5 C"}, AIR) == {}


@pytest.mark.parametrize(
    ("touched", "asked"),
    [
        ({"harm.low": "28 F"}, ""), ({"harm.low": "27.9 F"}, "frozen"),
        ({"harm.high": "50 F"}, ""), ({"harm.high": "10.1 C"}, "spoiled"),
        ({"tolerated.high": "6 h"}, ""), ({"tolerated.high": "361 min"}, "too warm for 361 min"),
        ({"harm.low": None}, "nobody is told if it is too cold"), ({"ideal.high": "60 F"}, ""),
    ],
)  # fmt: skip
def test_what_would_freeze_or_cook_is_asked_for(
    folder: Folder, touched: Touched, asked: str
) -> None:
    """In a cooler: under 28 °F, over 50 °F, over six hours, or no limit at all."""
    told = dangers(folder.load().places["walk-in-cooler"], AIR, touched)
    assert len(told) == bool(asked)
    assert all(asked in each for each in told)
