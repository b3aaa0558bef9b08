"""How places, batches and sensors are shown to stand."""

import json

import pytest

from monitor.model import Flag, PlaceState, Quantity
from monitor.watch import (
    WatchState,
    batch_status,
    begin,
    channel_status,
    place_status,
    places_json,
    plan,
    sensors_json,
)
from monitor.watch.status import Shared
from tests.watch.made import (
    DAMP,
    MINUTE_MS,
    NORTH,
    SOUTH,
    START_MS,
    band,
    batch,
    cooler,
    each,
    farm,
    pack,
    run,
)


def _after(values: list[float]) -> WatchState:
    minutes = [float(m) for m in range(len(values))]
    return run(begin(plan(farm(), []), START_MS), each(NORTH, minutes, values))[0]


@pytest.mark.parametrize(
    ("value", "state"),
    [
        (2.0, PlaceState.IN_BAND),
        (4.0, PlaceState.IN_BAND),  # an ideal limit itself is inside
        (4.2, PlaceState.DRIFTING),
        (0.7, PlaceState.DRIFTING),
        (5.0, PlaceState.HARM),  # a harm limit itself is outside
        (0.5, PlaceState.HARM),
    ],
)
def test_a_place_stands_by_its_newest_value(value: float, state: PlaceState) -> None:
    """A value inside is in band, past an ideal limit drifting, past a harm limit harm."""
    after = _after([3.0, value])
    assert place_status(after, "cooler", after.now_ms).state is state


def test_nothing_heard_is_unknown() -> None:
    """A place is unknown before anything was heard, and once the allowed gap is over."""
    state = begin(plan(farm(), []), START_MS)
    assert place_status(state, "cooler", START_MS).state is PlaceState.UNKNOWN
    after = _after([3.0])
    assert place_status(after, "cooler", START_MS + 180_000).state is PlaceState.IN_BAND
    lost = place_status(after, "cooler", START_MS + 180_001)
    assert (lost.state, lost.since_ms) == (PlaceState.UNKNOWN, START_MS + 180_000)


def test_suspect_values_are_shown_and_make_nothing_known() -> None:
    """A value that is not trusted is shown as such; alone it leaves the place unknown."""
    state, _ = run(begin(plan(farm(), []), START_MS), [pack(NORTH, [0.0], [60.0], Flag.SUSPECT)])
    status = channel_status(state, NORTH, START_MS)
    assert (status.value, status.trusted, status.state) == (60.0, False, PlaceState.UNKNOWN)


def test_the_worst_channel_decides() -> None:
    """A place is as bad as the worst of its channels that are known."""
    state = _after([3.0])
    state, _ = run(state, [pack(SOUTH, [0.5], [4.4]), pack(DAMP, [0.5], [92.0])])
    assert place_status(state, "cooler", state.now_ms).state is PlaceState.DRIFTING


def test_since_is_the_exact_crossing() -> None:
    """The time a state began is where the straight line crosses the limit."""
    after = _after([3.0, 3.0, 5.0])
    status = place_status(after, "cooler", after.now_ms)
    assert status.since_ms == START_MS + 2 * MINUTE_MS
    back = _after([3.0, 6.0, 3.0, 3.0])  # 4 °C is met two thirds of the second way
    expected_ms = START_MS + round((1 + 2 / 3) * MINUTE_MS)
    assert place_status(back, "cooler", back.now_ms).since_ms == expected_ms


def test_time_and_degree_hours_outside() -> None:
    """Per limit the time outside and the degree-hours are those of straight lines."""
    after = _after([3.0, *[7.0] * 31])
    lines = {line.limit: line for line in channel_status(after, NORTH, after.now_ms).lines}
    # 3 to 7 °C in a minute meets 5 °C halfway; then thirty minutes at 2 K beyond
    assert lines[5.0].outside_s == 30 + 30 * 60
    assert lines[5.0].degree_hours == pytest.approx((0.5 * 1.0 + 30 * 2.0) / 60, abs=1e-6)
    assert lines[5.0].alarming
    assert not lines[0.5].outside


def test_a_batch_stands_by_its_own_limits() -> None:
    """A batch is judged by its stage's limits; without any, by its place's."""
    stems, other = batch(14, "cut_stems", "cooler"), batch(15, "pre_sprout", "cooler")
    place = cooler(bands={Quantity.TEMPERATURE: band(high=12.0)})
    state, _ = run(
        begin(plan(farm([place]), [stems, other]), START_MS), each(NORTH, [0.0, 1.0], [9.0, 9.0])
    )
    assert batch_status(state, stems, state.now_ms).state is PlaceState.HARM
    assert batch_status(state, other, state.now_ms).state is PlaceState.DRIFTING


def test_batches_under_the_same_limits_are_judged_once() -> None:
    """What they share is looked at once; cut stems, each with a bound on its own stay, do not."""
    stems = [batch(number, "cut_stems", "cooler") for number in (14, 16)]
    others = [batch(number, "pre_sprout", "cooler") for number in (15, 17)]
    place = cooler(bands={Quantity.TEMPERATURE: band(high=12.0)})
    here = [*stems, *others]
    state, _ = run(begin(plan(farm([place]), here), START_MS), each(NORTH, [0.0, 1.0], [9.0, 9.0]))
    shared: Shared = {}
    told = {one.id: batch_status(state, one, state.now_ms, shared) for one in here}
    assert told == {one.id: batch_status(state, one, state.now_ms) for one in here}
    assert told[15].channels is told[17].channels
    assert told[14].channels is not told[16].channels


def test_places_have_the_promised_shape() -> None:
    """The list of places has the keys that others rely on, in °C and %, and is JSON."""
    place = cooler(bands={Quantity.TEMPERATURE: band(tolerated_low_s=600.0)})
    state, _ = run(begin(plan(farm([place]), []), START_MS), [pack(NORTH, [0.0], [3.0])])
    rows = json.loads(json.dumps(places_json(farm([place]), state, START_MS), allow_nan=False))
    row = rows[0]
    assert (row["id"], row["name"], row["kind"]) == ("cooler", "Walk-in cooler", "cooler")
    assert row["state"] == "in_band"
    limits = row["bands"]["temperature"]
    assert (limits["ideal"]["low"], limits["ideal"]["high"]) == (1.0, 4.0)
    assert limits["harm"]["high"] == 5.0
    assert (limits["harm"]["tolerated_s"], limits["harm"]["tolerated_low_s"]) == (1800.0, 600.0)
    current = row["current"]["temperature"]
    assert (current["value"], current["trusted"]) == (3.0, True)
    assert current["at"] == "2026-03-08T20:00:00Z"
    assert rows[1]["current"] == {}


def test_sensors_have_the_promised_shape() -> None:
    """The list of sensors has the keys that others rely on; null where never heard."""
    rows = sensors_json(farm(), {"north": START_MS})
    assert rows[0]["last_heard_at"] == "2026-03-08T20:00:00Z"
    assert rows[1]["last_heard_at"] is None
    assert rows[0]["channels"] == [
        {"quantity": "temperature", "path": None, "unit": "C"},
        {"quantity": "humidity", "path": None, "unit": "%"},
    ]
    assert {"id", "place", "topic", "interval_s"} <= rows[0].keys()
