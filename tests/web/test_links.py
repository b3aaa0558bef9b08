"""One-tap links: looking does nothing, pressing acts once, and each end says what to do."""

import asyncio

import pytest

from monitor.model import AlarmState, Answer, Link, LinkAction
from monitor.notices import drills
from monitor.web.app import create_app
from tests.web.desk import DAY_MS, MINUTE_MS, NOW_MS, SmallDesk
from tests.web.signing import HERE, SITE
from tests.web.visiting import Visitor

TOKEN = "a-token-of-this-test"  # noqa: S105  # made for these tests


def visitor(desk: SmallDesk, action: LinkAction = LinkAction.GOING) -> Visitor:
    """Return a visitor of a desk that sent a link to Wren."""
    desk.ledger.add_link(TOKEN, Link(1, None, "wren", action, NOW_MS, NOW_MS + DAY_MS))
    return Visitor(create_app(desk))


def test_looking_does_nothing(own_desk: SmallDesk) -> None:
    """A preview that fetches a link, as often as it likes, changes nothing."""
    guest = visitor(own_desk)
    for _ in range(3):
        page = guest.get(f"/a/{TOKEN}")
        assert page.status_code == 200
        assert "going</button>" in page.text
    assert own_desk.ledger.alarm(1).state is AlarmState.UNACKNOWLEDGED
    link = own_desk.ledger.link(TOKEN)
    assert link is not None
    assert link.used_ms is None


def test_pressing_acts_once(own_desk: SmallDesk) -> None:
    """The first press answers in the person's name; the second says that it did."""
    guest = visitor(own_desk)
    assert guest.post(f"/a/{TOKEN}").status_code == 200
    alarm = own_desk.ledger.alarm(1)
    assert (alarm.state, alarm.acknowledged_by) == (AlarmState.ACKNOWLEDGED, "Wren")
    assert alarm.answer is Answer.GOING
    again = guest.post(f"/a/{TOKEN}")
    assert again.status_code == 410
    assert "used already" in again.text
    assert len(own_desk.ledger.audit(1)) == 2


def test_a_link_does_its_own_action_only(own_desk: SmallDesk) -> None:
    """What a form adds cannot turn a link into another."""
    guest = visitor(own_desk, LinkAction.SEEN)
    guest.post(f"/a/{TOKEN}", data={"action": "going", "alarm": "2", "by": "Robin"})
    assert own_desk.ledger.alarm(1).answer is Answer.SEEN
    assert own_desk.ledger.alarm(1).acknowledged_by == "Wren"


def test_a_score_is_written_down(own_desk: SmallDesk) -> None:
    """The links of a returned alarm feed the scorecard and acknowledge nothing."""
    visitor(own_desk, LinkAction.NEEDLESS).post(f"/a/{TOKEN}")
    assert own_desk.ledger.scores() == {1: True}
    assert own_desk.ledger.alarm(1).state is AlarmState.UNACKNOWLEDGED


def test_an_expired_link_says_so(own_desk: SmallDesk) -> None:
    """A day later nothing is done, and the page says what to do instead."""
    guest = visitor(own_desk)
    own_desk.now = NOW_MS + DAY_MS
    for answer in (guest.get(f"/a/{TOKEN}"), guest.post(f"/a/{TOKEN}")):
        assert answer.status_code == 410
        assert "Open the alarms" in answer.text
    assert own_desk.ledger.alarm(1).state is AlarmState.UNACKNOWLEDGED


def test_an_unknown_link_says_so(own_desk: SmallDesk) -> None:
    """A token that was never made is not known, and leads to the alarms."""
    answer = visitor(own_desk).post("/a/another")
    assert answer.status_code == 404
    assert "not known here" in answer.text


def test_guessing_is_slowed(own_desk: SmallDesk) -> None:
    """After thirty made-up links within a minute a guesser waits; a link that was sent works."""
    guest = visitor(own_desk)
    codes = [guest.get(f"/a/guess-{number}").status_code for number in range(31)]
    assert codes == [404] * 30 + [429]
    assert guest.get(f"/a/{TOKEN}").status_code == 200
    assert guest.post(f"/a/{TOKEN}").status_code == 200


def test_a_token_is_never_kept(own_desk: SmallDesk) -> None:
    """The ledger's file holds the hash of a token, and not the token."""
    visitor(own_desk)
    files = own_desk.ledger.path.parent.glob("ledger.db*")
    assert not any(TOKEN.encode() in each.read_bytes() for each in files)


def _drilled(desk: SmallDesk, sent_ms: int, person: str = "wren") -> Visitor:
    """Return a visitor of a desk that sent a night drill and its link."""
    desk.ledger.put(drills.KEY, drills.begun(None, ["wren"], sent_ms))
    link = Link(None, None, person, LinkAction.WOKE, NOW_MS, NOW_MS + DAY_MS)
    desk.ledger.add_link(TOKEN, link)
    return Visitor(create_app(desk))


def test_a_drill_is_answered_by_one_press(own_desk: SmallDesk) -> None:
    """Looking writes nothing; the press writes down who was woken, once, and no alarm changes."""
    guest = _drilled(own_desk, NOW_MS - 9 * MINUTE_MS)
    assert "It woke me</button>" in guest.get(f"/a/{TOKEN}").text
    assert own_desk.ledger.get(drills.KEY)["woken"] == {}
    answer = guest.post(f"/a/{TOKEN}")
    assert (answer.status_code, "Thank you, Wren" in answer.text) == (200, True)
    assert own_desk.ledger.get(drills.KEY)["woken"] == {"wren": NOW_MS}
    assert guest.post(f"/a/{TOKEN}").status_code == 410
    assert own_desk.ledger.alarm(1).state is AlarmState.UNACKNOWLEDGED


@pytest.mark.parametrize(
    ("minutes", "person", "said"),
    [(11, "wren", "11 minutes ago, and only ten count"), (1, "robin", "no night drill has gone")],
)
def test_a_late_or_foreign_answer_to_a_drill_counts_for_nothing(
    own_desk: SmallDesk, minutes: int, person: str, said: str
) -> None:
    """After ten minutes, or without a drill of one's own, nothing is written and it is said why."""
    answer = _drilled(own_desk, NOW_MS - minutes * MINUTE_MS, person).post(f"/a/{TOKEN}")
    assert (answer.status_code, said in answer.text) == (422, True)
    assert own_desk.ledger.get(drills.KEY)["woken"] == {}


def test_many_presses_at_once_act_once(own_desk: SmallDesk) -> None:
    """Of twenty replays at the same moment one answers, and one line says so."""
    visitor(own_desk)
    app = create_app(own_desk)

    async def together() -> list[int]:
        import httpx  # noqa: PLC0415 - here alone

        door = httpx.ASGITransport(app=app, client=(HERE, 1))
        async with httpx.AsyncClient(transport=door, base_url=SITE) as client:
            sent = [client.post(f"/a/{TOKEN}", headers={"origin": SITE}) for _ in range(20)]
            return [each.status_code for each in await asyncio.gather(*sent)]

    codes = asyncio.run(together())
    assert sorted(codes) == [200] + [410] * 19
    assert len(own_desk.ledger.audit(1)) == 2
