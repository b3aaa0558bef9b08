"""The daemon killed at the worst moments: nothing lost, nothing told twice."""

import random
import threading
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
from pydantic import SecretStr

from monitor.model import AlarmState, Channel, NoticeKind, NoticeStatus, Quantity
from tests.system.brokers import Mosquitto, publish, wait_until
from tests.system.daemons import Watched
from tests.system.playing import COLD_C, SPELL, WARM_C, Player
from tests.system.sinks import Mailbox

pytestmark = pytest.mark.system

Mail = tuple[Mailbox, SecretStr]
Farms = Callable[..., Watched]
BACK = Channel("cooler-back", Quantity.TEMPERATURE)
DOOR = Channel("cooler-door-side", Quantity.TEMPERATURE)
MESSAGES, KILLS = 2_000, 5


def stored_f(farm: Watched) -> "list[float]":
    """Return all that is stored of the back shelf, in order of time. [°F]"""
    with farm.readings() as readings:
        raw = readings.series(BACK, 0).raw
    return [float(each) for each in np.round(raw * 1.8 + 32.0, 3)]


def stored_c(farm: Watched) -> int:
    """Return how many readings are stored of the cooler's sensor by the door."""
    with farm.readings() as readings:
        return len(readings.series(DOOR, 0).at_ms)


def test_no_kill_loses_or_doubles_a_message(farms: Farms, mosquitto: Mosquitto) -> None:
    """Killed five times within 2,000 QoS 1 messages without time, each is stored once."""
    farm = farms(mosquitto.port).start()
    wanted = [round(36.0 + number / 1000, 3) for number in range(MESSAGES)]
    messages = [("farm/cooler/back", str(each).encode()) for each in wanted]
    dice = random.Random(7)  # noqa: S311 - moments, not secrets
    share = MESSAGES // KILLS
    for number in range(KILLS):
        part = messages[number * share : (number + 1) * share]
        publisher = threading.Thread(target=publish, args=(mosquitto.port, part))
        had = len(stored_f(farm))
        publisher.start()
        wait_until(lambda had=had: len(stored_f(farm)) > had)  # type: ignore[misc]
        threading.Event().wait(dice.uniform(0.0, 0.05))
        farm.kill()
        publisher.join(30)
        farm.start(ready=False)
    wait_until(lambda: len(stored_f(farm)) >= MESSAGES, 30)
    wait_until(farm.ready)
    assert sorted(stored_f(farm)) == wanted
    assert farm.stop() < 5.0


@pytest.mark.parametrize(("moment", "known"), [("ledger", 0), ("send", 1)])
def test_what_a_kill_kept_from_being_told_is_told_once(
    farms: Farms, mosquitto: Mosquitto, mail: Mail, moment: str, known: int
) -> None:
    """Killed before the alarm is written, or before it is sent: one notice, after the start."""
    farm = farms(mosquitto.port, mail[1])
    usual, farm.program = farm.program, ("-m", "tests.system.dying_daemon", moment)
    farm.start()
    player = Player(farm, mosquitto.port, 60)
    player.send(SPELL)
    assert farm.ended() == 9
    with farm.ledger() as ledger:
        assert len(ledger.alarms()) == len(ledger.notices()) == known
        assert [each.attempts for each in ledger.notices()] == [0] * known
    assert stored_c(farm) > 50  # the harmful ones were on the disk
    assert mail[0].mails == []
    farm.program = usual
    farm.start()
    wait_until(lambda: len(mail[0].mails) == 1)
    player.play(WARM_C)
    player.play(*[COLD_C] * 4)
    wait_until(lambda: len(mail[0].mails) == 2)
    farm.stop()
    with farm.ledger() as ledger:
        (alarm,) = ledger.alarms()
        told: list[Any] = [(each.kind, each.status) for each in ledger.notices_of(alarm.id)]
    assert stored_c(farm) == player.sent
    assert alarm.state is AlarmState.RETURNED_UNACKNOWLEDGED
    assert told == [
        (NoticeKind.RAISED, NoticeStatus.SENT), (NoticeKind.CLEARED, NoticeStatus.SENT)
    ]  # fmt: skip
