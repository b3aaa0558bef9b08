"""A second set of cooler-months, made quite another way than the simulator's.

Many coolers are carried on side by side in steps of 20 s: air, skin and contents as three
lumps. They differ in how they are controlled (thermostat with a rest for the compressor,
or a machine that runs at part load), how they defrost (by the clock, after so many hours
of running, or not at all), how people use them (odd hours, markets, harvest days, a dial
that is turned) and how they are read (slow probes, 1 to 10 minutes, whole degrees F).
It serves to see whether what was tuned on one kind of cooler holds for another.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from monitor.watch.events import Times
from tests.benchmarks.alarm_trial.coolers import DAYS, Month, around_warm_ms, harmed_ms

Floats = npt.NDArray[np.float64]
_STEP_S: Final = 20.0
_STEPS: Final = 3  # a minute
_DAY_MIN: Final = 1440
_MINUTES: Final = int(DAYS) * _DAY_MIN
_START_MS: Final = 20_500 * 86_400_000
_NONE, _CLOCK, _NEED = 0, 1, 2


@dataclass
class _Park:
    """Coolers side by side, shape (n,) each: [J/K], [W/K], [W], [s], [°C]."""

    air_j_k: Floats
    skin_j_k: Floats
    contents_j_k: Floats
    ua_w_k: Floats
    skin_w_k: Floats
    contents_w_k: Floats
    door_w_k: Floats
    capacity_w: Floats
    set_c: Floats
    differential_k: Floats
    part_load: Floats
    rest_s: Floats
    probe_s: Floats
    defrost: Floats
    defrost_every_s: Floats
    defrost_s: Floats
    defrost_at_s: Floats
    defrost_w: Floats
    dial_min: Floats
    dial_k: Floats


def _park(n: int, dice: np.random.Generator) -> _Park:
    def between(low: float, high: float) -> Floats:
        return np.exp(dice.uniform(np.log(low), np.log(high), n))

    volume_m3 = between(5.0, 80.0)
    ua_w_k = between(0.3, 0.9) * 6.0 * volume_m3 ** (2.0 / 3.0)
    contents_j_k = 3_700.0 * between(0.4, 35.0) * volume_m3
    capacity_w = between(1.5, 4.0) * ua_w_k * 32.0
    skin_j_k = between(6_000.0, 25_000.0) * volume_m3 ** (2.0 / 3.0)
    defrost = dice.choice([_NONE, _CLOCK, _CLOCK, _CLOCK, _NEED], n).astype(np.float64)
    turned = dice.random(n) < 0.25  # one in four
    return _Park(
        air_j_k=between(2.0, 5.0) * 1_260.0 * volume_m3,
        skin_j_k=skin_j_k,
        contents_j_k=contents_j_k,
        ua_w_k=ua_w_k,
        skin_w_k=skin_j_k / between(600.0, 2_400.0),
        contents_w_k=contents_j_k / between(2_400.0, 21_600.0),
        door_w_k=between(80.0, 500.0),
        capacity_w=capacity_w,
        set_c=dice.uniform(0.6, 1.8, n),
        differential_k=dice.uniform(0.6, 2.0, n),
        part_load=(dice.random(n) < 0.25).astype(np.float64),
        rest_s=dice.choice([120.0, 300.0, 600.0], n),
        probe_s=between(30.0, 300.0),
        defrost=defrost,
        defrost_every_s=np.where(
            defrost == _NEED, dice.uniform(3.0, 9.0, n), 24.0 / dice.integers(1, 7, n)
        ) * 3600.0,
        defrost_s=dice.uniform(720.0, 2_700.0, n),
        defrost_at_s=dice.uniform(0.0, 86_400.0, n),
        defrost_w=np.where(dice.random(n) < 0.6, dice.uniform(0.05, 0.3, n) * capacity_w, 0.0),
        dial_min=np.where(turned, dice.uniform(9.0, 26.0, n) * _DAY_MIN, np.inf),
        dial_k=dice.choice([-1.0, 1.0, 1.0, 2.0], n) * dice.uniform(0.5, 1.0, n),
    )  # fmt: skip


@dataclass
class _Life:
    """What people and weather do, shape (minutes, n): door's share, load's share, [°C]."""

    door: Floats
    load: Floats
    around_c: Floats
    load_c: Floats


def _life(n: int, dice: np.random.Generator) -> _Life:
    door, load = np.zeros((_MINUTES, n)), np.zeros((_MINUTES, n))
    for each in range(n):
        _used(door[:, each], load[:, each], dice)
    minute = np.arange(_MINUTES)[:, None]
    season = dice.uniform(-7.0, 7.0, n) * minute / _MINUTES
    day = dice.uniform(0.5, 6.0, n) * np.cos((minute / _DAY_MIN - 0.63) * 2.0 * np.pi)
    drift = np.cumsum(dice.normal(0.0, 0.7, (int(DAYS) + 1, n)), axis=0)
    weather = np.stack([
        np.interp(np.arange(_MINUTES) / _DAY_MIN, np.arange(int(DAYS) + 1), drift[:, each])
        for each in range(n)
    ], axis=1)  # fmt: skip
    around_c = np.clip(dice.uniform(12.0, 27.0, n) + season + day + weather, 8.0, 38.0)
    return _Life(door, np.minimum(load, 0.6), around_c, around_c - dice.uniform(0.0, 5.0, n))


def _used(door: Floats, load: Floats, dice: np.random.Generator) -> None:
    """Fill one cooler's month of use."""
    often, long_min = dice.uniform(3.0, 25.0), np.exp(dice.uniform(np.log(0.3), np.log(1.6)))
    odd, market = dice.uniform(0.0, 0.15), int(dice.integers(0, 7))
    harvest = dice.uniform(0.05, 0.3)
    busiest = int(dice.integers(2, 8))
    for day in range(int(DAYS)):
        share = {market: 1.8, (market + 1) % 7: 0.3}.get(day % 7, 1.0)
        for _ in range(dice.poisson(often * share)):
            hour = dice.uniform(0.0, 24.0) if dice.random() < odd else dice.normal(12.5, 3.2)
            _open(door, day * _DAY_MIN + hour * 60.0, long_min * np.exp(dice.normal(0.0, 0.7)))
        loads = busiest if dice.random() < harvest else int(dice.random() < share / 2.0)
        for _ in range(loads):
            at = day * _DAY_MIN + dice.uniform(6.0, 19.0) * 60.0
            _open(door, at, dice.uniform(2.0, 12.0))
            if 0 <= at < _MINUTES:
                load[int(at)] += dice.uniform(0.02, 0.2)


def _open(door: Floats, at_min: float, long_min: float) -> None:
    first, last = int(at_min), int(at_min + long_min)
    for row in range(max(first, 0), min(last, door.size - 1) + 1):
        share = min(at_min + long_min, row + 1.0) - max(at_min, float(row))
        door[row] = min(1.0, door[row] + share)


class _Play:
    """All coolers now; ``minute`` carries them on."""

    def __init__(self, park: _Park, life: _Life, died_min: Floats) -> None:
        self._is, self._life, self._died_min = park, life, died_min
        self.air_c = park.set_c + 0.5 * park.differential_k
        self.contents_c = self.air_c.copy()
        self._skin_c, self._probe_c = self.air_c.copy(), self.air_c.copy()
        self._on = np.zeros(self.air_c.size, dtype=np.bool_)
        self._rest_s, self._ran_s = park.rest_s.copy(), np.zeros(self.air_c.size)
        self._melts_s = np.zeros(self.air_c.size)

    def minute(self, at: int) -> None:
        """Carry on by one minute."""
        each, life = self._is, self._life
        share = life.load[at]
        self.contents_c += share * (life.load_c[at] - self.contents_c)
        g_out = each.ua_w_k + life.door[at] * each.door_w_k
        total = each.air_j_k / _STEP_S + g_out + each.skin_w_k + each.contents_w_k
        fixed = g_out * life.around_c[at]
        for step in range(_STEPS):
            machine_w = self._machine_w(at, at * 60.0 + step * _STEP_S)
            self.air_c = (
                each.air_j_k / _STEP_S * self.air_c + fixed + each.skin_w_k * self._skin_c
                + each.contents_w_k * self.contents_c + machine_w
            ) / total  # fmt: skip
            self._skin_c += each.skin_w_k * _STEP_S / each.skin_j_k * (self.air_c - self._skin_c)
            self.contents_c += (
                each.contents_w_k * _STEP_S / each.contents_j_k * (self.air_c - self.contents_c)
            )
            self._probe_c += (1.0 - np.exp(-_STEP_S / each.probe_s)) * (self.air_c - self._probe_c)

    def _machine_w(self, at: int, now_s: float) -> Floats:
        each = self._is
        since_s = (now_s - each.defrost_at_s) % each.defrost_every_s
        due = (each.defrost == _NEED) & (self._ran_s > each.defrost_every_s)
        self._melts_s = np.where(due, each.defrost_s, np.maximum(self._melts_s - _STEP_S, 0.0))
        self._ran_s[due] = 0.0
        melting = (self._melts_s > 0.0) | ((each.defrost == _CLOCK) & (since_s < each.defrost_s))
        set_c = each.set_c + each.dial_k * (at >= each.dial_min)
        start = ~self._on & (self._probe_c > set_c + each.differential_k)
        start &= self._rest_s >= each.rest_s
        stop = self._on & (self._probe_c < set_c)
        self._on = (self._on | start) & ~stop & ~melting
        self._rest_s = np.where(self._on, 0.0, self._rest_s + _STEP_S)
        share = np.where(
            each.part_load > 0.0,
            np.clip((self._probe_c - set_c) / each.differential_k, 0.0, 1.0) * ~melting,
            self._on,
        )
        self._ran_s += _STEP_S * (share > 0.0)
        dead = at >= self._died_min
        return np.asarray(melting * each.defrost_w - share * each.capacity_w) * ~dead


def other_months(sound: int, dying: int, seed: int) -> Iterator[Month]:
    """Yield coolers unlike the simulator's, the sound ones first."""
    dice = np.random.default_rng([seed, 29])
    n = sound + dying
    park, life = _park(n, dice), _life(n, dice)
    died_min = np.where(np.arange(n) < sound, np.inf, dice.uniform(8.0, DAYS - 1.2, n) * _DAY_MIN)
    died_min = np.floor(died_min)
    play = _Play(park, life, died_min)
    air_c, contents_c = np.empty((_MINUTES, n)), np.empty((_MINUTES, n))
    for at in range(_MINUTES):
        play.minute(at)
        air_c[at], contents_c[at] = play.air_c, play.contents_c
    true_ms = _START_MS + np.arange(1, _MINUTES + 1, dtype=np.int64) * 60_000
    for each in range(n):
        at_ms, value, interval_ms = _read(true_ms, air_c[:, each], dice)
        warm_ms = around_warm_ms(true_ms, contents_c[:, each])
        if each < sound:
            yield Month(at_ms, value, interval_ms, None, None, warm_ms)
            continue
        died_ms = _START_MS + int(died_min[each]) * 60_000
        out_ms = harmed_ms(true_ms, contents_c[:, each], died_ms)
        if out_ms is not None:
            before = at_ms <= out_ms + 3_600_000
            yield Month(at_ms[before], value[before], interval_ms, died_ms, out_ms, warm_ms)


def _read(true_ms: Times, air_c: Floats, dice: np.random.Generator) -> tuple[Times, Floats, int]:
    """Return what a slow, coarse probe says, now and then unheard."""
    every = int(dice.choice([1, 1, 2, 5, 5, 10]))
    keep = np.exp(-60.0 / np.exp(dice.uniform(np.log(20.0), np.log(600.0))))
    probe, now = np.empty(air_c.size), float(air_c[0])
    for k, value in enumerate(air_c.tolist()):
        now = value + (now - value) * keep
        probe[k] = now
    at_ms = true_ms[::every] + dice.integers(-2_000, 2_000, true_ms[::every].size)
    digit = dice.choice([0.01, 0.1, 0.1, 0.5, 1.0 / 1.8])
    value = np.interp(at_ms, true_ms, probe) + dice.normal(0.0, 0.3)
    value += dice.normal(0.0, dice.choice([0.02, 0.05, 0.1, 0.15]), at_ms.size)
    heard = dice.random(at_ms.size) >= dice.choice([0.0, 0.005, 0.03, 0.1])
    for _ in range(int(dice.poisson(4.0))):
        lost_ms = dice.uniform(int(at_ms[0]), int(at_ms[-1]))
        heard &= ~((at_ms > lost_ms) & (at_ms < lost_ms + dice.exponential(2.0 * 3_600_000.0)))
    coarse = np.round((value + 32.0 / 1.8) / digit) * digit - 32.0 / 1.8
    return at_ms[heard], coarse[heard], every * 60_000


__all__ = ["other_months"]
