"""Verdicts differ for stated reasons, each with its figure; wording as the design's example."""

from dataclasses import replace
from datetime import UTC, datetime
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from monitor.batches.book import Observation, Roots
from monitor.batches.combining import Course, SensorSeries, combine
from monitor.batches.growing import Growing, growing_verdict
from monitor.batches.history import History, history
from monitor.batches.pieces import Version, pieces
from monitor.batches.planting import Planting, planting_verdict
from monitor.batches.readiness import forecast, looks, sightings
from monitor.batches.site import Site, Tonight
from monitor.batches.thermal_clock import Part, thermal_clock
from monitor.batches.unknown import Unknown, unknown_air
from monitor.batches.verdict import Answer, Pull, Verdict, judged, say_verdict
from monitor.batches.voice import Voice, ordinal, percent, span
from monitor.farm import RootRule
from monitor.model import Band, Batch, Grade, Harm, Ideal, PlaceKind, Quantity, Stage, Stay
from monitor.science.series import Samples
from monitor.units import TemperatureUnit, to_celsius

HOUR_MS = 3_600_000
DAY_MS = 24 * HOUR_MS
NOW_MS = int(datetime(2026, 11, 24, 15, tzinfo=UTC).timestamp()) * 1000  # a Tuesday
BEGAN_MS = NOW_MS - 11 * DAY_MS
AIR = Quantity.TEMPERATURE
FARM = Voice(TemperatureUnit.FAHRENHEIT, ZoneInfo("America/New_York"), NOW_MS)


def f(value: float) -> float:
    """Return a Fahrenheit figure in °C."""
    return to_celsius(value, TemperatureUnit.FAHRENHEIT)


SPROUTING = Stage(
    "pre_sprout", "pre-sprout", (PlaceKind.SPROUTING_ROOM,),
    {AIR: Band(
        Ideal(f(45), f(50), Grade.COMMON_PRACTICE, "common practice"),
        Harm(f(35), f(65), 7200.0, 21_600.0, Grade.FARM, "cautious farm setting"),
    )},
    least_s=7 * 86_400.0, longest_s=14 * 86_400.0,
)  # fmt: skip
PLANTED = Harm(f(26), f(80), 7200.0, 7200.0, Grade.FARM, "cautious farm setting")
TUNNEL = Site(
    "Tunnel 2", "just planted", PLANTED, soil_c=f(52), low_c=f(36), high_c=f(60),
    tonight=Tonight(f(38), 2.0, "the outlook"),
)  # fmt: skip


def batch(until_ms: int | None = None) -> Batch:
    """Return batch 14: corms in the sprouting room for eleven days."""
    return Batch(
        id=14, crop="ranunculus", cultivar="Dawn Apricot", supplier=None, lot=None, grade=None,
        count=300, rough=False, counted_at_ms=None, received=None, rotten=None, unit="corms",
        stays=(Stay("sprouting-room", "pre_sprout", BEGAN_MS, until_ms),), ended_ms=None,
        held_for=None, parents=(),
    )  # fmt: skip


def look(days_ago: float, **said: object) -> Observation:
    """Return what someone saw so many days ago."""
    plain = Observation(
        entry=1, batch=14, at_ms=NOW_MS - round(days_ago * DAY_MS), by="Wren", roots=None,
        mould=None, softness=None, moisture=None, culls=None, all_fine=False, note=None,
        count=None, rough=False, held_for=None, held=None,
    )  # fmt: skip
    return replace(plain, **said)  # type: ignore[arg-type]


def rooted(number: int, of: int = 25, days_ago: float = 1.0) -> Observation:
    """Return a sample of corms at the farm's length."""
    return look(days_ago, roots=Roots((), number, of, number / of, None))


def room(*warm: tuple[float, float, float], gap: tuple[float, float] | None = None) -> SensorSeries:
    """Return eleven days at 47 °F, with spells (day, hours, °F) and a gap (day, hours)."""
    at_ms = np.arange(BEGAN_MS, NOW_MS + 1, HOUR_MS // 12, dtype=np.int64)
    day = (at_ms - BEGAN_MS) / DAY_MS
    value = np.full(len(at_ms), f(47))
    for start, hours, fahrenheit in warm:
        value[(day >= start) & (day < start + hours / 24)] = f(fahrenheit)
    kept = np.ones(len(at_ms), np.bool_)
    if gap is not None:
        kept = ~((day > gap[0]) & (day < gap[0] + gap[1] / 24))
    return SensorSeries("shelf", AIR, Samples(at_ms[kept], value[kept], 900.0))


def case(
    *seen: Observation, air: SensorSeries | None = None, site: Site | None = TUNNEL
) -> Planting:
    """Return the question whether batch 14 may be planted out."""
    series = air or room()
    versions = [Version(0, {"pre_sprout": SPROUTING.bands})]
    lived: History = history(batch(), {"sprouting-room": [series]}, versions, NOW_MS)
    piece = pieces(batch(), versions, NOW_MS)[0]
    course: Course = combine([series], BEGAN_MS, NOW_MS)
    clock = thermal_clock([Part(BEGAN_MS, NOW_MS, course.samples)], 0.0)
    rule = RootRule()
    told = None if clock is None else forecast(clock, sightings(seen, clock), [], rule)
    return Planting(
        stage=SPROUTING, since_ms=BEGAN_MS, rule=rule, observations=seen, forecast=told,
        looks=looks(seen, BEGAN_MS), stages=lived.stages,
        unknown=unknown_air(piece, course, PlaceKind.SPROUTING_ROOM), site=site,
    )  # fmt: skip


def verdict(
    *seen: Observation, air: SensorSeries | None = None, site: Site | None = TUNNEL
) -> Verdict:
    """Return the verdict on planting batch 14 out."""
    return planting_verdict(case(*seen, air=air, site=site), FARM)


def kinds(told: Verdict, pull: Pull) -> list[str]:
    """Return the kinds of the reasons that pull one way."""
    return [each.kind for each in told.reasons if each.pull is pull]


def test_the_designs_example_is_said_as_it_says_it() -> None:
    """Rooted, 3 h of drift, 6 h unknown, frost under cover: ready, under cover."""
    cold = replace(TUNNEL, tonight=Tonight(f(28), 2.0, "the outlook"), cover="heavy")
    told = verdict(
        rooted(22), look(0.5, all_fine=True), air=room((1.0, 3.0, 54.0), gap=(3.0, 6.0)), site=cold
    )
    said = say_verdict(told, "Batch 14, Dawn Apricot, pre-sprout, day 11")
    assert said.startswith("Batch 14, Dawn Apricot, pre-sprout, day 11: ready, under cover. 22 of")
    assert "22 of 25 corms rooted to your length (yesterday)." in said
    assert "Out of its ideal band 3 h on the 14th, up to 54 °F, never at harm." in said
    assert "6 h on the 16th unknown" in said
    assert "Tunnel 2 soil 52 °F." in said
    assert "chance of 26 °F air in Tunnel 2 tonight; under the heavy cover that is no harm" in said
    assert "roots likely over 1.5 in and easy to snap" in said


def test_short_roots_wait_with_the_days_they_will_be_ready() -> None:
    """3 of 25 wait; what the soil is like, or is not known to be, cannot change that."""
    told = verdict(rooted(3), site=None)
    assert told.answer is Answer.WAIT
    assert kinds(told, Pull.WAIT) == ["roots"]
    assert kinds(told, Pull.DOUBT) == []
    assert "3 of 25 corms rooted" in told.reasons[0].text
    assert "most of the batch ready between" in told.reasons[0].text
    assert told.cost_of_waiting is not None


def test_roots_nobody_measured_are_a_doubt() -> None:
    """On day eleven at 47 °F roots may well be ready: measure some."""
    told = verdict(look(0.5, all_fine=True))
    assert told.answer is Answer.LOOK_CLOSELY
    assert kinds(told, Pull.DOUBT) == ["roots"]
    assert "measure some" in told.reasons[0].text


def test_mould_comes_before_everything() -> None:
    """Mould seen since the last all-fine look asks to look closely, short roots or not."""
    told = verdict(look(2, all_fine=True), look(1, mould="grey fur on 3"), rooted(3))
    assert told.answer is Answer.LOOK_CLOSELY
    assert told.reasons[0].text == "Mould seen yesterday by Wren: grey fur on 3."


def test_mould_that_is_none_or_long_past_is_no_reason() -> None:
    """A note of no mould, or mould before an all-fine look, does not count."""
    told = verdict(
        look(3, mould="spots"), look(2, all_fine=True), look(1, mould="None"), rooted(23)
    )
    assert told.answer is Answer.READY


def test_harm_longer_than_tolerated_asks_to_look() -> None:
    """Eight hours at 70 °F, six tolerated over 65: look closely, with the figures."""
    told = verdict(rooted(22), air=room((4.0, 8.0, 70.0)))
    assert told.answer is Answer.LOOK_CLOSELY
    harm = told.reasons[0]
    assert harm.kind == "harm"
    assert "over the harm limit of 65 °F for 8 h on the 17th, to 70 °F (6 h tolerated)" in harm.text
    assert harm.figures["peak"] == pytest.approx(f(70))


def test_harm_seen_to_have_done_nothing_is_a_note() -> None:
    """An all-fine look after the warm spell leaves it told, and the answer as it was."""
    told = verdict(look(2, all_fine=True), rooted(22), air=room((4.0, 8.0, 70.0)))
    assert told.answer is Answer.READY
    assert "harm" in kinds(told, Pull.NOTE)


@pytest.mark.parametrize(
    ("hours", "seen_since", "answer"),
    [(6.0, False, Answer.READY), (30.0, False, Answer.LOOK_CLOSELY), (30.0, True, Answer.READY)],
)
def test_unknown_hours_matter_only_where_they_could_hide_harm(
    hours: float, *, seen_since: bool, answer: Answer
) -> None:
    """Six hours cannot run to 35 °F, stay two and come back; thirty can, unless seen fine."""
    seen = [look(2, all_fine=True)] if seen_since else []
    told = verdict(*seen, rooted(22), air=room(gap=(3.0, hours)))
    assert told.answer is answer
    assert any("unknown" in each.text for each in told.reasons)


@pytest.mark.parametrize(
    ("site", "answer", "said"),
    [
        (replace(TUNNEL, soil_c=f(75)), Answer.WAIT, "Tunnel 2 soil 75 °F: over 70 °F it kills"),
        (replace(TUNNEL, soil_c=f(31)), Answer.WAIT, "it is frozen"),
        (replace(TUNNEL, soil_c=None), Answer.READY, ""),
        (replace(TUNNEL, soil_c=None, high_c=f(78)), Answer.LOOK_CLOSELY, "is not measured"),
        (replace(TUNNEL, heat_c=f(84)), Answer.WAIT, "air up to 84 °F in the coming days"),
        (replace(TUNNEL, high_c=f(78)), Answer.LOOK_CLOSELY, "no forecast of the coming heat"),
        (replace(TUNNEL, tonight=None), Answer.LOOK_CLOSELY, "No outlook for tonight in Tunnel 2"),
        (replace(TUNNEL, tonight=None, low_c=f(50)), Answer.READY, ""),
        (replace(TUNNEL, tonight=Tonight(f(27), 1.0, "x")), Answer.LOOK_CLOSELY, "cover it"),
        (replace(TUNNEL, tonight=Tonight(f(20), 1.0, "x")), Answer.WAIT, "over 99 % chance"),
        (replace(TUNNEL, tonight=Tonight(f(20), 1.0, "x"), cover="light"), Answer.WAIT, "even"),
        (None, Answer.LOOK_CLOSELY, "Nothing is measured where it would be planted"),
    ],
)  # fmt: skip
def test_the_site_speaks_for_or_against_and_only_where_it_matters(
    site: Site | None, answer: Answer, said: str
) -> None:
    """Hot or frozen soil, heat and frost wait; what is missing is a doubt where it matters."""
    told = verdict(rooted(23), look(0.5, all_fine=True), site=site)
    assert told.answer is answer
    assert said in " ".join(each.text for each in told.reasons)


def test_a_look_that_is_overdue_is_a_doubt() -> None:
    """Eleven days without a look, due on day six: look before planting."""
    told = verdict()
    assert "Not looked at yet: a look for mould and moisture was due" in " ".join(
        each.text for each in told.reasons
    )


def test_air_that_is_not_known_gives_no_forecast_and_no_figure() -> None:
    """Without readings the stage's own times speak, and the unknown time is a doubt."""
    nothing = SensorSeries("shelf", AIR, Samples(np.empty(0, np.int64), np.empty(0), 900.0))
    told = verdict(rooted(22), air=nothing)
    assert told.answer is Answer.LOOK_CLOSELY
    assert told.cost_of_waiting == (
        "The longest time at pre-sprout ends Friday: over-long roots snap."
    )
    assert "11 d on the 13th unknown, long enough to hide harm" in " ".join(
        each.text for each in told.reasons
    )


def test_every_reason_has_words_and_the_order_is_by_weight() -> None:
    """What is wrong stands first, what changes nothing last."""
    told = verdict(rooted(22), look(0.5, mould="spots"), air=room((4.0, 8.0, 70.0)))
    order = [each.pull for each in told.reasons]
    assert order == sorted(order, key=[Pull.LOOK, Pull.WAIT, Pull.DOUBT, Pull.FOR, Pull.NOTE].index)
    assert all(each.text.endswith(".") for each in told.reasons)


def test_nothing_against_it_is_ready() -> None:
    """No reason at all is ready: a verdict is advice, and silence speaks for it."""
    assert judged([]).answer is Answer.READY


def test_a_growing_or_ended_batch_waits() -> None:
    """Where nothing is to be decided the answer is to wait, and says why."""
    bud = Growing("bud", None, BEGAN_MS, (), (), ())
    assert growing_verdict(bud, FARM).answer is Answer.WAIT
    ended = growing_verdict(replace(bud, ended_ms=NOW_MS - DAY_MS), FARM)
    assert ended.reasons[0].text == "The batch ended yesterday: nothing is to be decided."


@pytest.mark.parametrize(
    ("since_h", "answer"), [(1, Answer.WAIT), (3.5, Answer.READY), (5, Answer.LOOK_CLOSELY)]
)
def test_a_soak_has_its_time(since_h: float, answer: Answer) -> None:
    """Three to four hours (common practice): before, wait; after, take them out and look."""
    soak = Stage("soak", "soak", (PlaceKind.SOAK_BUCKET,), {}, 3 * 3600.0, 4 * 3600.0)
    here = Growing("soak", soak, NOW_MS - round(since_h * HOUR_MS), (), (), ())
    assert growing_verdict(here, FARM).answer is answer


def test_unknown_runs_are_told_by_how_far_the_limit_lay() -> None:
    """A limit a kelvin away can be hidden by less than one ten kelvins away."""
    piece = pieces(batch(), [Version(0, {"pre_sprout": SPROUTING.bands})], NOW_MS)[0]
    near = combine([room((2.9, 12.0, 64.0), gap=(3.0, 7.0))], BEGAN_MS, NOW_MS)
    far = combine([room(gap=(3.0, 6.0))], BEGAN_MS, NOW_MS)

    def hides(course: Course) -> list[bool]:
        runs: list[Unknown] = unknown_air(piece, course, PlaceKind.SPROUTING_ROOM)
        return [each.hides_harm for each in runs]

    assert hides(near) == [True]
    assert hides(far) == [False]


def test_figures_are_said_as_people_say_them() -> None:
    """Days by their name within a week, shares never a false 0 or 100, spans in words."""
    assert FARM.day(NOW_MS + 2 * DAY_MS) == "Thursday"
    assert FARM.day(NOW_MS - 30 * DAY_MS) == "25 Oct"
    assert (percent(0.001), percent(0.999), percent(0.3)) == ("under 1 %", "over 99 %", "30 %")
    assert [span(each) for each in (600, 5100, 32_400, 280_800)] == [
        "10 min", "1 h 25 min", "9 h", "3 d 6 h",
    ]  # fmt: skip
    assert [ordinal(each) for each in (1, 2, 3, 11, 22)] == ["1st", "2nd", "3rd", "11th", "22nd"]
    assert FARM.degrees(f(32)) == "32 °F"
    assert replace(FARM, unit=TemperatureUnit.CELSIUS).length(25.4) == "25 mm"
