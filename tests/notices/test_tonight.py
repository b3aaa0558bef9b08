"""What is said of a night and a morning, and when it may be said."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import UTC, date, datetime, time
from zoneinfo import ZoneInfo

import pytest

from monitor.alarms import wording
from monitor.farm import NoticeRules, Place
from monitor.model import NoticeKind, PlaceKind, Priority
from monitor.notices import cover_message, cover_window, heat_message, say_tonight, telling
from monitor.science.frost_outlook import Basis
from monitor.science.sun import Night
from monitor.science.tunnel_heat import Basis as HeatBasis
from monitor.watch.heat import Heat, worth_telling
from monitor.watch.nights import HOUR_MS, Where, night_of
from monitor.watch.tonight import Lack, Limit, Tonight, Typed
from tests.watch.made import batch, farm

WHERE = Where(42.4, -73.3)
ZONE = ZoneInfo("America/New_York")
FARM = farm([Place("tunnel", "Tunnel 2", PlaceKind.TUNNEL)])
WORDS = wording(FARM, [batch(4, "bud", "tunnel")])


def _ms(month: int, day: int, hour: int, minute: int = 0) -> int:
    local = datetime(2026, month, day, hour, minute, tzinfo=ZONE)
    return round(local.astimezone(UTC).timestamp() * 1000)


NIGHT = Night(_ms(3, 10, 17, 52), _ms(3, 11, 7, 10))
NOW_MS = _ms(3, 10, 16, 0)
TOLD = Tonight(
    "tunnel", date(2026, 3, 10), NIGHT, None, NOW_MS, -2.7, 2.5, Basis.PRIOR_WITH_OFFSET, 6,
    limit=Limit(-2.2222, "Bud", (4,)), passes_ms=_ms(3, 11, 4, 28), cover="heavy", holds=True,
)  # fmt: skip
HEAT = Heat(
    "tunnel", 23.8889, _ms(3, 10, 7, 12), _ms(3, 10, 9, 50), _ms(3, 10, 10, 15),
    _ms(3, 10, 10, 40), 0.9, 22, HeatBasis.OWN_DAYS,
)  # fmt: skip


def _covers(*told: Tonight) -> list[str]:
    rows = cover_message(told, WORDS, FARM.people, FARM.notices, NOW_MS)
    assert {(row.kind, row.priority) for row in rows} <= {(NoticeKind.TOLD, Priority.LOW.value)}
    return sorted({row.body for row in rows})


def test_covers_are_told_place_and_deed_first() -> None:
    """The place, what to do by when, the chance and the hour, whose limit, and on what ground."""
    (body,) = _covers(TOLD)
    assert body == (
        "Tunnel 2, tonight: covers on before sunset at 17:52. 58 % chance of 28 °F or less, if so "
        "from about 04:30; least about 27 °F towards 07:10 (8 nights in 10: 21 °F to 33 °F). "
        "Under its heavy cover: 16 %. In there: batch 4, Dawn Apricot; 28 °F harms at bud. "
        "From 42 other stations' nights until it has 20 of its own; it has 6."
    )


def test_a_warm_night_sends_nothing() -> None:
    """Under the farm's chance there is no message, nor for a place where nothing stands."""
    assert _covers(replace(TOLD, least_c=6.0)) == []
    assert _covers(replace(TOLD, holds=False)) == []
    assert _covers() == []


def test_only_the_cold_places_are_told_in_one_message() -> None:
    """Of several tunnels the message names those to cover, a line each."""
    (body,) = _covers(TOLD, replace(TOLD, least_c=6.0), replace(TOLD, cover=None))
    assert len(body.splitlines()) == 2


@pytest.mark.parametrize("lack", list(Lack))
def test_what_is_missing_is_said_and_no_figure(lack: Lack) -> None:
    """Each lack is a sentence of its own, without a figure of temperature or chance."""
    said = say_tonight(
        replace(TOLD, lack=lack, least_c=None, sd_k=None, basis=None), telling(WORDS, NOW_MS)
    )  # fmt: skip
    assert said.startswith("Tunnel 2, tonight: no outlook, for ")
    assert "°" not in said
    assert "%" not in said
    assert _covers(replace(TOLD, lack=lack, least_c=None, sd_k=None)) == []


def test_a_forecast_alone_is_told_as_such() -> None:
    """Where the model could not speak, the sentence says by whose forecast, and why alone."""
    typed = Typed(-2.2222, "Wren", _ms(3, 10, 14, 5))
    said = say_tonight(
        replace(TOLD, lack=Lack.NO_HUMIDITY, basis=None, typed=typed), telling(WORDS, NOW_MS)
    )  # fmt: skip
    assert "By the forecast low of 28 °F that Wren gave today 14:05 alone, for no sensor" in said


def test_the_basis_switches_where_it_says() -> None:
    """With twenty nights the place's own are named, moved by or alone."""
    how = telling(WORDS, NOW_MS)
    assert "moved by 24 of its own" in say_tonight(replace(TOLD, own_nights=24), how)
    own = replace(TOLD, own_nights=24, basis=Basis.OWN_NIGHTS)
    assert "From 24 nights of its own." in say_tonight(own, how)


def test_opening_is_told_with_its_range() -> None:
    """The place, the limit in the farm's unit, about when and from when to when, and the deed."""
    rows = heat_message([HEAT], WORDS, FARM.people, FARM.notices, _ms(3, 10, 9, 0))
    assert {row.body for row in rows} == {
        (
            "Tunnel 2 passes 75 °F about 10:15 (09:50 to 10:40): open it. From this morning's "
            "climb and 22 like days of its own; 90 % of them passed it."
        )
    }
    assert heat_message([], WORDS, FARM.people, FARM.notices, NOW_MS) == ()


def test_nobody_is_woken_to_open() -> None:
    """In the quiet hours nothing is told: the place's alarm stands for that."""
    quiet = NoticeRules(quiet_from=time(21), quiet_until=time(9, 30))
    assert heat_message([HEAT], WORDS, FARM.people, quiet, _ms(3, 10, 9, 0)) == ()


def test_opening_needs_a_lead_and_a_settled_morning() -> None:
    """Too late is not told, too early not yet, and by the climb alone only an hour ahead."""
    assert worth_telling(HEAT, _ms(3, 10, 9, 0))
    assert not worth_telling(HEAT, _ms(3, 10, 10, 10))
    assert not worth_telling(HEAT, _ms(3, 10, 8, 0))
    alone = replace(HEAT, basis=HeatBasis.CLIMB_ALONE, chance=None)
    assert not worth_telling(alone, _ms(3, 10, 9, 0))
    assert worth_telling(alone, _ms(3, 10, 9, 30))


# Sunsets of the days on which, by the IANA data base, New York's clocks change in 2026.
@pytest.mark.parametrize("day", [date(2026, 3, 7), date(2026, 3, 8), date(2026, 11, 1)])
def test_the_window_is_two_hours_before_sunset_on_any_day(day: date) -> None:
    """At both changes of the clock the window is as long, and lies in that day's light."""
    night = night_of(day, WHERE)
    assert night is not None
    window = cover_window(night, NoticeRules(), ZONE) or ()
    assert window == (night.set_ms - 2 * HOUR_MS, night.set_ms)
    local = [datetime.fromtimestamp(each / 1000, ZONE) for each in window]
    assert {each.date() for each in local} == {day}


def _window(rules: NoticeRules) -> Sequence[int]:
    return cover_window(NIGHT, rules, ZONE) or ()


def test_the_window_ends_before_the_quiet_hours() -> None:
    """Quiet hours that begin before sunset move it ahead; later ones, or none, do not."""
    early = NoticeRules(quiet_from=time(17), quiet_until=time(6))
    assert _window(early) == (_ms(3, 10, 14, 50), _ms(3, 10, 16, 50))
    late = NoticeRules(quiet_from=time(21), quiet_until=time(6))
    assert _window(late) == (NIGHT.set_ms - 2 * HOUR_MS, NIGHT.set_ms)
    assert cover_window(None, late, ZONE) is None
