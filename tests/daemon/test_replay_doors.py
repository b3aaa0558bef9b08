"""A replay of a door's sensor in long packs, beside a reading at a time."""

from pathlib import Path

import numpy as np

from monitor.daemon.replaying import Replay
from monitor.model import AlarmKind, Channel, Edge, Flag, Quantity, Reading
from tests.daemon.test_replay_equal import UNTIL_MS, Plain, _order, _returns, _store
from tests.watch.made import HOUR_MS, MINUTE_MS, START_MS, farm, sensor

_DOOR = Channel("leaf", Quantity.DOOR)


def _readings() -> list[Reading]:
    """Return a door that opens often, twice for long, once of these over a slice's end."""
    at_ms = START_MS + np.arange(30 * 60, dtype=np.int64) * MINUTE_MS
    value = np.zeros(at_ms.size)
    dice = np.random.default_rng(5)
    for start in dice.integers(0, at_ms.size, 40):
        value[start : start + int(dice.integers(1, 8))] = 1.0
    for start in (300, 24 * 60 - 9):
        value[start : start + 45] = 1.0
    air = [Channel("north", Quantity.TEMPERATURE), Channel("south", Quantity.TEMPERATURE)]
    return [
        Reading(channel, at, each, Flag.NONE, at)
        for channel, values in ((_DOOR, value), *((one, np.full(at_ms.size, 2.5)) for one in air))
        for at, each in zip(at_ms.tolist(), values.tolist(), strict=True)
    ]


def test_a_door_left_open_is_told_at_the_same_moment_in_packs(tmp_path: Path) -> None:
    """Twenty minutes after it opened, also where a slice of the replay ends between."""
    both = (Quantity.TEMPERATURE,)
    made = farm(sensors=[sensor("north", both), sensor("south", both), sensor("leaf", (_DOOR[1],))])
    readings = _readings()
    reader = _store(tmp_path, readings)
    found = Replay(made, [], reader, START_MS, UNTIL_MS).run()
    reader.close()
    told = Plain(made, []).run(readings)
    raised = sorted((each for each in told if each.edge is Edge.RAISE), key=_order)
    doors = [each.at_ms for each in raised if each.key.kind is AlarmKind.DOOR_OPEN]
    assert sorted((each.raised for each in found), key=_order) == raised
    ended = [(each.raised.key, each.returned_ms) for each in found if each.returned_ms is not None]
    assert sorted(ended) == sorted(_returns(told))
    assert len(doors) == 2
    assert abs(doors[1] - START_MS - 24 * HOUR_MS - 11 * MINUTE_MS) <= 9 * MINUTE_MS
