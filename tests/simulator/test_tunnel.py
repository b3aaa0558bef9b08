"""A tunnel warms in the sun, cools under a clear sky, and its steps may be long."""

import pytest

from simulator.sky import sky_temperature_k
from simulator.tunnel import Air, Grown, Tunnel, advance, begun, long_wave_share


def _after(tunnel: Tunnel, air: Air, hours: float, span_s: float = 60.0) -> Grown:
    grown = begun(air.outside_c, 8.0)
    for _ in range(round(hours * 3_600.0 / span_s)):
        advance(tunnel, grown, air, span_s)
    return grown


CLEAR_K = sky_temperature_k(2.0, -3.0, 0.0)
CLOUDED_K = sky_temperature_k(2.0, -3.0, 8.0)


def test_a_closed_tunnel_gains_fifteen_degrees_in_an_hour_of_sun() -> None:
    """A closed winter tunnel can gain 15 °C in an hour of sun (growers' word)."""
    grown = _after(Tunnel(), Air(2.0, -3.0, CLEAR_K, 700.0, 6.0), 1.0)
    assert 10.0 < grown.air_c - 2.0 < 25.0


def test_somebody_who_vents_keeps_it_cooler() -> None:
    """An attended tunnel stays under a closed one by degrees."""
    air = Air(10.0, 2.0, CLEAR_K, 800.0, 8.0)
    closed, vented = _after(Tunnel(), air, 3.0), _after(Tunnel(), air._replace(attended=1.0), 3.0)
    assert vented.air_c < closed.air_c - 4.0
    assert vented.opened > 0.3


def test_clouds_keep_the_night_warmer() -> None:
    """Under cloud the same night ends warmer than under a clear sky."""
    clear, clouded = (
        _after(Tunnel(), Air(2.0, -3.0, sky_k, 0.0, 6.0), 8.0) for sky_k in (CLEAR_K, CLOUDED_K)
    )
    assert clouded.air_c > clear.air_c + 0.5


def test_covered_plants_are_warmer_than_the_air() -> None:
    """Row covers hold plants towards the soil: light cover gives 1 to 2 °C (extension)."""
    air = Air(-4.0, -8.0, sky_temperature_k(-4.0, -8.0, 0.0), 0.0, 6.0)
    covered, bare = _after(Tunnel(), air._replace(covered=1.0), 6.0), _after(Tunnel(), air, 6.0)
    assert covered.plants_c > covered.air_c + 1.0
    assert bare.plants_c == pytest.approx(bare.air_c, abs=0.5)


def test_dew_closes_the_film_to_the_sky() -> None:
    """A film that has gathered dew lets less long-wave radiation out."""
    tunnel, wet = Tunnel(), begun(5.0, 8.0)
    wet.film_kg_m2 = 0.05
    assert long_wave_share(tunnel, wet) == pytest.approx(tunnel.wet_long_wave)
    assert long_wave_share(tunnel, begun(5.0, 8.0)) == pytest.approx(tunnel.dry_long_wave)


def test_long_and_short_steps_agree() -> None:
    """Steps of ten seconds and of five minutes end within 0.1 °C."""
    air = Air(2.0, -3.0, CLEAR_K, 300.0, 6.0)
    ends = [_after(Tunnel(), air, 4.0, span_s).air_c for span_s in (10.0, 300.0)]
    assert ends[0] == pytest.approx(ends[1], abs=0.1)
