"""``cormwatch simulate``: publish made-up readings to the farm's own broker, in real time."""

import argparse
import signal
import threading
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from typing import Final

from monitor.cli.common import add_farm, farm_dir
from monitor.clock import Clock, SystemClock
from monitor.errors import OutOfRangeError, UnknownNameError
from monitor.farm import Farm, find_place, find_sensor, load
from monitor.units import parse_duration_s
from simulator.farm import Published, SimulatedFarm
from simulator.faults import PLACE_FAULTS, SENSOR_FAULTS, Fault, FaultKind
from simulator.publishing import Publisher, pace
from simulator.scenarios import QUIET, SCENARIOS, fault_at, fault_kind, scenario

_DAY_MS: Final = 86_400_000
_ENDLESS_MS: Final = 3_650 * _DAY_MS


def register(parser: argparse.ArgumentParser) -> None:
    """Add the command's arguments."""
    add_farm(parser)
    parser.add_argument(
        "--scenario", default=QUIET, metavar="NAME",
        help=f"what happens: {', '.join(SCENARIOS)} (default: {QUIET})",
    )  # fmt: skip
    parser.add_argument("--seed", type=int, default=1, metavar="N", help="another farm life")
    parser.add_argument("--minutes", type=float, metavar="N", help="end after so long")
    parser.add_argument("--fault", metavar="NAME", help="a fault beside the scenario's")
    parser.add_argument("--in", dest="subject", metavar="ID", help="the fault's place or sensor")
    parser.add_argument(
        "--after", default="10 min", metavar="TIME", help="when it goes wrong (default: 10 min)"
    )
    parser.add_argument("--speed", type=float, default=1.0, help=argparse.SUPPRESS)
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Publish until the minutes are over or Ctrl-C is pressed."""
    _check_speed(args.speed)
    until_ms = _span_ms(args.minutes)
    farm = load(farm_dir(args))
    clock = SystemClock()
    start_ms = clock.now_ms()
    faults = _faults(farm, args, start_ms + round(parse_duration_s(args.after) * 1000))
    life = SimulatedFarm(farm, args.seed, start_ms, faults)
    publisher = Publisher(farm.broker)
    _publish(life.messages(start_ms + until_ms), publisher, clock, _opening(farm, faults))
    print(f"Published {publisher.sent:,} messages.")
    return 0


def _publish(
    messages: Iterable[Published], publisher: Publisher, clock: Clock, opening: str
) -> None:
    """Publish in time; Ctrl-C is the usual way to end."""
    with _stoppable() as stop, publisher:
        print(opening, flush=True)
        pace(messages, publisher, clock, stop)
    if stop.is_set():
        print()


@contextmanager
def _stoppable() -> Iterator[threading.Event]:
    """Give an event that Ctrl-C sets, also where the shell had it ignored."""
    stop = threading.Event()
    names = (signal.SIGINT, signal.SIGTERM)
    before = [signal.signal(name, lambda _number, _frame: stop.set()) for name in names]
    try:
        yield stop
    finally:
        for name, handler in zip(names, before, strict=True):
            signal.signal(name, handler)


def _check_speed(speed: float) -> None:
    if speed != 1.0:
        raise OutOfRangeError(
            f"--speed {speed:g}: a running daemon judges by its own clock, so readings can only "
            "be published at the speed of real time; cormwatch demo shows days in minutes"
        )


def _span_ms(minutes: float | None) -> int:
    if minutes is None:
        return _ENDLESS_MS
    if not 0.0 < minutes * 60_000.0 <= _ENDLESS_MS:
        raise OutOfRangeError(f"--minutes {minutes:g}: give a number of minutes over 0")
    return round(minutes * 60_000.0)


def _faults(farm: Farm, args: argparse.Namespace, start_ms: int) -> tuple[Fault, ...]:
    """Return the scenario's faults, and the one that is named."""
    faults = scenario(farm, args.scenario, start_ms)
    if args.fault is None:
        if args.subject is not None:
            raise UnknownNameError("--in names where a fault is: name the fault with --fault too")
        return faults
    kind = fault_kind(args.fault)
    return (*faults, fault_at(farm, kind, start_ms, _subject(farm, kind, args.subject)))


def _subject(farm: Farm, kind: FaultKind, text: str | None) -> str | None:
    """Return the id of what the text names, a sensor or a place as the fault needs."""
    if text is None:
        return None
    if kind in SENSOR_FAULTS:
        return find_sensor(farm, text).id
    if kind in PLACE_FAULTS:
        return find_place(farm, text).id
    if kind is not FaultKind.GATEWAY_DARK:
        raise UnknownNameError(f"a {kind.replace('_', ' ')} meets the whole farm: leave --in out")
    try:
        return find_place(farm, text).id
    except UnknownNameError:
        return find_sensor(farm, text).id


def _opening(farm: Farm, faults: tuple[Fault, ...]) -> str:
    sensors = f"{len(farm.sensors)} sensor{'' if len(farm.sensors) == 1 else 's'}"
    planned = [
        f"{each.kind.replace('_', ' ')}{f' in {each.subject}' if each.subject else ''}"
        for each in faults
    ]
    return (
        f"Publishing {sensors} of {farm.name} to {farm.broker.host}:{farm.broker.port}; "
        f"to come: {', '.join(planned) or 'nothing unusual'}. Ctrl-C ends it."
    )
