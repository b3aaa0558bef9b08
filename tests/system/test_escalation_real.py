"""Two people, a real mail server, a real HTTP service: rung in turn, answered by a link."""

import re
from collections.abc import Callable
from typing import Any
from urllib.request import Request, urlopen

import pytest
from pydantic import SecretStr

from monitor.model import AlarmState, Answer
from tests.system.brokers import Mosquitto, wait_until
from tests.system.daemons import Watched
from tests.system.playing import COLD_C, SPELL, WARM_C, Player
from tests.system.sinks import Mailbox

pytestmark = pytest.mark.system

Mail = tuple[Mailbox, SecretStr]
Sink = tuple[list[dict[str, Any]], SecretStr]
MUCH_WARMER_C = 11.0
PEOPLE = """
[[person]]
id = "robin"
name = "Robin"
addresses = ["env:ROBIN_MAIL"]

[[person]]
id = "mute"
name = "Finch"

[[person]]
id = "wren"
name = "Wren"
addresses = ["env:ROBIN_HOOK"]

[[duty]]
person = "robin"
"""


def _set_up(farm: Watched) -> Watched:
    """Let Robin be on duty, Wren come next after six seconds, and messages carry links."""
    (farm.folder / "people.toml").write_text(PEOPLE, encoding="utf-8")
    file = farm.folder / "farm.toml"
    text = file.read_text(encoding="utf-8")
    assert "[notices]\n" in text
    text = text.replace("[notices]\n", '[notices]\nescalate_after = "6 s"\n', 1)
    own = 'base_url = "http://127.0.0.1:8484"\n'
    text = (
        text.replace("[pages]\n", f"[pages]\n{own}", 1)
        if "[pages]\n" in text
        else f"{text}\n[pages]\n{own}"
    )
    file.write_text(text, encoding="utf-8")
    return farm.start()


def test_two_people_are_rung_in_turn(
    farms: Callable[..., Watched], mosquitto: Mosquitto, mail: Mail, sink: Sink
) -> None:
    """First who is on duty, then who can be rung next; an answer that does not help rings again."""
    farm = _set_up(farms(mosquitto.port, mail[1], sink[1]))
    player = Player(farm, mosquitto.port, 67)
    player.play(*SPELL, *[WARM_C] * 5)
    wait_until(lambda: len(mail[0].mails) == 1)
    assert sink[0] == []
    wait_until(lambda: len(sink[0]) == 1, 30)
    assert sink[0][0]["title"].startswith("Still: ")
    going = re.search(r"I'm going: \S+(/a/\S+)", sink[0][0]["message"])
    assert going is not None
    with urlopen(farm.address + going[1], timeout=10) as page:  # noqa: S310  # our own address
        assert page.status == 200
    with farm.ledger() as ledger:
        assert ledger.alarm(1).state is AlarmState.UNACKNOWLEDGED
    post = Request(farm.address + going[1], data=b"", method="POST")  # noqa: S310  # our own address
    with urlopen(post, timeout=10) as page:  # noqa: S310  # our own address
        assert page.status == 200
    with farm.ledger() as ledger:
        alarm = ledger.alarm(1)
    assert (alarm.state, alarm.acknowledged_by) == (AlarmState.ACKNOWLEDGED, "Wren")
    assert alarm.answer is Answer.GOING
    player.play(MUCH_WARMER_C)
    wait_until(lambda: any("worse" in each["message"] for each in sink[0]), 30)
    player.play(*[COLD_C] * 5)
    wait_until(lambda: "back in band" in str(mail[0].mails[-1]["subject"]), 30)
    wait_until(lambda: "back in band" in sink[0][-1]["title"], 30)
    assert "needless" in sink[0][-1]["message"]
    with farm.ledger() as ledger:
        notes = [each.note for each in ledger.audit(1)]
        assert not any(each.person == "mute" for each in ledger.notices_of(1))
    assert any(each.startswith("rings again") for each in notes)
