"""The shapes that other programs rely on, and how failures answer them."""

import json
import math
from datetime import UTC, datetime

import pytest

from monitor.store import DamagedError
from monitor.web.sound import sound
from tests.web.desk import SmallDesk
from tests.web.visiting import Visitor


def test_places_have_their_shape(visitor: Visitor) -> None:
    """A place tells id, name, kind, state, bands and newest values, in [°C]."""
    cooler = {each["id"]: each for each in visitor.get("/api/places").json()}["walk-in-cooler"]
    assert cooler["kind"] == "cooler"
    assert cooler["state"] == "harm"
    harm = cooler["bands"]["temperature"]["harm"]
    assert harm["high"] == pytest.approx((42 - 32) / 1.8)
    assert harm["tolerated_s"] == 2700
    current = cooler["current"]["temperature"]
    assert current["trusted"] is True
    assert current["at"] == "2026-11-25T17:00:00Z"


def test_sensors_have_their_shape(visitor: Visitor) -> None:
    """A sensor tells topic, interval, last heard and channels; a bare number has no path."""
    told = {each["id"]: each for each in visitor.get("/api/sensors").json()}
    assert told["cooler-back"]["channels"] == [
        {"quantity": "temperature", "path": None, "unit": "F"}
    ]
    assert told["cooler-back"]["last_heard_at"] == "2026-11-25T17:00:00Z"
    assert told["dry-store-shelf"]["last_heard_at"] is None


def test_batches_have_their_shape(visitor: Visitor) -> None:
    """A batch tells what design promises; one alone tells stays, entries and its history too."""
    first = visitor.get("/api/batches").json()[0]
    assert {key: first[key] for key in ("id", "crop", "cultivar", "count", "rough", "stage")} == {
        "id": 1, "crop": "ranunculus", "cultivar": "Dawn Apricot", "count": 488, "rough": False,
        "stage": "pre_sprout",
    }  # fmt: skip
    one = visitor.get("/api/batches/2").json()
    assert one["stays"][0]["until"] is None
    assert one["history"]["stages"][0]["coverage"] == pytest.approx(30 / 74.4, abs=0.01)


def test_alarms_have_their_shape(visitor: Visitor) -> None:
    """An alarm tells kind, place, batches, priority, state, times and text."""
    alarm = visitor.get("/api/alarms?open=true").json()[0]
    assert alarm["kind"] == "too_warm"
    assert alarm["place"] == "walk-in-cooler"
    assert alarm["batches"] == [2]
    assert alarm["state"] == "unacknowledged"
    assert alarm["acknowledged_at"] is None
    assert alarm["text"].startswith("Walk-in cooler is too warm.")


def test_series_follow_what_was_read(visitor: Visitor) -> None:
    """Each sensor of the place has a line, in order of time, within its least and most."""
    asked = "place=walk-in-cooler&quantity=temperature&since=6+h+ago&until=now&points=100"
    told = visitor.get(f"/api/series?{asked}").json()
    assert [line["sensor"] for line in told["lines"]] == ["cooler-door-side", "cooler-back"]
    line = told["lines"][0]
    assert line["at"] == sorted(line["at"])
    assert line["at"][0] >= datetime(2026, 11, 25, 11, tzinfo=UTC).timestamp()
    assert all(a <= b <= c for a, b, c in zip(line["low"], line["mean"], line["high"], strict=True))
    assert told["ideal"]["high"] == pytest.approx((40 - 32) / 1.8)


def test_an_unknown_stretch_breaks_the_line(visitor: Visitor) -> None:
    """Readings end where they end: before the first there is no point at all."""
    told = visitor.get("/api/series?place=soak-bucket&quantity=temperature&since=3+d+ago").json()
    first = told["lines"][0]["at"][0]
    assert first >= datetime(2026, 11, 24, 10, tzinfo=UTC).timestamp()


@pytest.mark.parametrize(
    ("path", "status", "says"),
    [
        ("/api/batches/99", 404, "there is no batch 99"),
        ("/api/nope", 404, "There is no such page."),
        ("/api/series?place=attic&quantity=temperature", 404, "no place is called 'attic'"),
        ("/api/series?place=tunnel-1&quantity=colour", 422, "quantity"),
        ("/api/series?place=tunnel-1&quantity=humidity&since=soon", 422, "is no time"),
        ("/api/series?place=tunnel-1&quantity=humidity&points=1", 422, "points"),
        ("/api/alarms?limit=0", 422, "limit"),
    ],
)
def test_a_wrong_question_is_answered_with_why(
    visitor: Visitor, path: str, status: int, says: str
) -> None:
    """A failure under /api/ is JSON with a sentence."""
    answer = visitor.get(path)
    assert answer.status_code == status
    assert says in answer.json()["detail"]


def test_a_failing_store_is_said_and_no_page_breaks(
    desk: SmallDesk, visitor: Visitor, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A store that cannot be read answers 503 with its own sentence."""

    def broken() -> None:
        raise DamagedError("readings.db is damaged: restore it")

    monkeypatch.setattr(desk, "reader", broken)
    answer = visitor.get("/sensors")
    assert answer.status_code == 503
    assert "readings.db is damaged" in answer.text


def test_no_infinite_figure_leaves_in_json() -> None:
    """An infinite value and NaN become null, and the object names the keys."""
    told = sound({"a": math.inf, "b": {"c": [1.0, math.nan]}, "d": (2.0,), "e": "inf"})
    assert told == {
        "a": None, "b": {"c": [1.0, None], "not_finite": ["c"]}, "d": [2.0], "e": "inf",
        "not_finite": ["a"],
    }  # fmt: skip
    json.dumps(told, allow_nan=False)


def test_health_is_told_to_a_machine(desk: SmallDesk, visitor: Visitor) -> None:
    """Alive is 200 always; ready is 503 while broker or store fails."""
    assert visitor.get("/health/live").json() == {"status": "alive"}
    assert visitor.get("/health/ready").status_code == 200
    before = desk.state_of_health
    desk.state_of_health = type(before)(ready=False, broker="lost", store="writable")
    try:
        answer = visitor.get("/health/ready")
    finally:
        desk.state_of_health = before
    assert answer.status_code == 503
    assert answer.json()["broker"] == "lost"
