"""Settings of a place by forms without a script."""

from html import unescape

import pytest

from monitor.farm import load
from monitor.model import Grade, Quantity
from tests.web.desk import SmallDesk
from tests.web.settings.forms import filled, forms
from tests.web.visiting import Visitor

COOLER = "/settings/places/walk-in-cooler"
AIR = Quantity.TEMPERATURE


def sure(page: str) -> str:
    """Return the confirmation that a page asks for."""
    return unescape(page.partition('name="sure" value="')[2].partition('"')[0])


def test_one_limit_is_changed_with_a_reason(own_desk: SmallDesk, own_visitor: Visitor) -> None:
    """The figure is typed in the farm's unit; grade, source and the list say who and why."""
    fields = filled(
        own_visitor, COOLER, COOLER, "temperature", harm__high="43", by="Wren", why="old seal"
    )
    assert own_visitor.post(COOLER, data=fields).status_code == 303
    harm = load(own_desk.folder).places["walk-in-cooler"].bands[AIR].harm
    assert harm is not None
    assert harm.high == pytest.approx((43 - 32) / 1.8)
    assert harm.low == pytest.approx((33 - 32) / 1.8)
    assert (harm.grade, harm.source) == (Grade.FARM, "set by Wren: old seal")
    assert "set by Wren: old seal (the farm&#39;s own setting)" in own_visitor.get(COOLER).text
    page = unescape(own_visitor.get("/settings").text)
    assert "Wren: Walk-in cooler: old seal" in page


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ({"harm__high": "warm"}, "is no temperature: write it with its unit"),
        ({"harm__high": "30"}, "30 F is not above 33 F"),
        ({"harm__high": "43", "tolerated__high": ""}, "Say how long it may last"),
        ({"harm__high": "43", "why": ""}, "Say why, please"),
        ({}, "Nothing is different from what it was"),
        ({"harm__high": "37"}, "nothing was changed"),
    ],
)
def test_a_mistake_stands_beside_its_field(
    own_desk: SmallDesk, own_visitor: Visitor, typed: dict[str, str], said: str
) -> None:
    """Nothing is written, what was typed stays, and no file or key is named."""
    before = load(own_desk.folder).digest
    fields = filled(
        own_visitor, COOLER, COOLER, "temperature", **({"by": "Wren", "why": "x"} | typed)
    )
    answer = own_visitor.post(COOLER, data=fields)
    assert answer.status_code == 422
    page = unescape(answer.text)
    assert said.casefold() in page.casefold()
    assert "farm.toml" not in page
    again = next(each for each in forms(answer.text, COOLER) if each["form"] == ["temperature"])
    assert again["harm.high"] == fields["harm.high"]
    assert load(own_desk.folder).digest == before


@pytest.mark.parametrize("time", ["kept", "emptied"])
def test_a_harm_limit_is_emptied_with_its_time_or_without(
    own_desk: SmallDesk, own_visitor: Visitor, time: str
) -> None:
    """Once it is confirmed there is no limit on that side, and no time for it; the other stays."""
    typed = {"harm__high": "", "by": "Wren", "why": "spare"}
    if time == "emptied":
        typed["tolerated__high"] = ""
    fields = filled(own_visitor, COOLER, COOLER, "temperature", **typed)
    asked = own_visitor.post(COOLER, data=fields)
    assert "nobody is told if it is too warm" in asked.text
    assert own_visitor.post(COOLER, data=fields | {"sure": sure(asked.text)}).status_code == 303
    before = own_desk.farm().places["walk-in-cooler"].bands[AIR].harm
    harm = load(own_desk.folder).places["walk-in-cooler"].bands[AIR].harm
    assert before is not None
    assert harm is not None
    assert (harm.low, harm.high) == (before.low, None)
    (line,) = [each for each in own_visitor.get(COOLER).text.splitlines()
               if 'name="tolerated.high"' in each and "temperature-tol" in each]  # fmt: skip
    assert 'value=""' in line


def test_a_dangerous_limit_is_asked_for_once_more(
    own_desk: SmallDesk, own_visitor: Visitor
) -> None:
    """First the consequence in words; confirming another one's consequence does not count."""
    typed = {"by": "Wren", "why": "trial"}
    fields = filled(own_visitor, COOLER, COOLER, "temperature", harm__low="20", **typed)
    asked = own_visitor.post(COOLER, data=fields)
    assert asked.status_code == 422
    assert "may be frozen before it is 20 F" in asked.text
    other = fields | {"sure": sure(asked.text), "harm.low": ["19"]}
    assert own_visitor.post(COOLER, data=other).status_code == 422
    assert own_visitor.post(COOLER, data=fields | {"sure": sure(asked.text)}).status_code == 303
    harm = load(own_desk.folder).places["walk-in-cooler"].bands[AIR].harm
    assert harm is not None
    assert harm.low == pytest.approx((20 - 32) / 1.8)


def test_facts_are_changed_and_markup_is_text(own_desk: SmallDesk, own_visitor: Visitor) -> None:
    """A name with markup is shown as it was written; one of 300 letters is refused."""
    name = "<b>Big</b> & 'cold'"
    fields = filled(
        own_visitor, COOLER, COOLER, "facts", by="Wren", name=name, first_look="the door",
        lag="40 min",
    )  # fmt: skip
    assert own_visitor.post(COOLER, data=fields).status_code == 303
    place = load(own_desk.folder).places["walk-in-cooler"]
    assert (place.name, place.first_look, place.lag_s) == (name, "the door", 2400.0)
    assert "<b>Big" not in own_visitor.get("/settings").text
    long = filled(own_visitor, COOLER, COOLER, "facts", by="Wren", name="x" * 300)
    assert "this has 300" in own_visitor.post(COOLER, data=long).text


def test_a_place_is_added_with_the_limits_of_its_kind(
    own_desk: SmallDesk, own_visitor: Visitor
) -> None:
    """Name and kind are enough; a name that is taken is refused."""
    path = "/settings/new-place"
    fields = filled(own_visitor, path, path, by="Wren", name="Tunnel 3", kind="tunnel")
    assert (
        own_visitor.post(path, data=fields).headers["location"]
        == "/settings/places/tunnel-3?done=1"
    )
    farm = load(own_desk.folder)
    assert farm.places["tunnel-3"].bands == farm.places["tunnel-1"].bands
    again = filled(own_visitor, path, path, by="Wren", name="tunnel 3", kind="tunnel")
    assert "of this name already" in own_visitor.post(path, data=again).text


def test_two_edits_of_two_limits_lose_neither(own_desk: SmallDesk, own_visitor: Visitor) -> None:
    """The later one is refused once, and pressed again changes only what it touched."""
    typed = {"why": "seal", "by": "Wren"}
    mine = filled(own_visitor, COOLER, COOLER, "temperature", harm__high="43", **typed)
    theirs = filled(own_visitor, COOLER, COOLER, "temperature", tolerated__high="50 min", **typed)
    assert own_visitor.post(COOLER, data=theirs).status_code == 303
    refused = own_visitor.post(COOLER, data=mine)
    assert "changed by someone else" in refused.text
    again = next(each for each in forms(refused.text, COOLER) if each["form"] == ["temperature"])
    assert own_visitor.post(COOLER, data=again).status_code == 303
    harm = load(own_desk.folder).places["walk-in-cooler"].bands[AIR].harm
    assert harm is not None
    assert harm.high == pytest.approx((43 - 32) / 1.8)
    assert harm.tolerated_high_s == pytest.approx(3000.0)
