"""Links at the end of a message: made as it goes, bound, and left out where they cannot be."""

import re
from pathlib import Path

from monitor.alarms import on_transition, wording
from monitor.courier.choosing import Parcel
from monitor.courier.links import LASTS_MS, with_links
from monitor.courier.wording import short_form
from monitor.errors import StoreError
from monitor.languages import translator
from monitor.model import Link, LinkAction, Notice, NoticeKind
from monitor.notices.drills import night_test
from monitor.store import Ledger
from tests.alarms.test_machine import RAISE
from tests.courier.made import NOW_MS, notice
from tests.watch.made import START_MS, farm

BASE = "https://farm.example"


class _Full(Ledger):
    """A ledger that cannot be written."""

    def add_link(self, token: str, link: Link) -> None:
        """Fail as a full disk does."""
        raise StoreError(f"the disk is full: no link for {link.person}, {len(token)} letters")


def _parcel(ledger: Ledger, kind: NoticeKind) -> Parcel:
    raised = ledger.transact(RAISE.key, on_transition(RAISE, wording(farm()), START_MS), START_MS)
    assert raised is not None
    told: Notice = notice(kind, alarm=raised.alarm.id)
    (told,) = ledger.add_notices([told])
    return Parcel((told,), told.title, told.body)


def test_each_link_is_bound_and_only_its_hash_is_kept(tmp_path: Path) -> None:
    """Seen and going are two links of this person and alarm, for a day, begun at our address."""
    ledger = Ledger.open(tmp_path / "ledger.db")
    parcel = _parcel(ledger, NoticeKind.RAISED)
    body = with_links(parcel, ledger, BASE, NOW_MS)
    assert body.startswith(parcel.body)
    tokens = re.findall(rf"{BASE}/a/(\S+)", body)
    links = [ledger.link(each) for each in tokens]
    assert [each and each.action for each in links] == [LinkAction.SEEN, LinkAction.GOING]
    for token, link in zip(tokens, links, strict=True):
        assert len(token) >= 22  # 128 bits in base 64
        assert link is not None
        assert (link.person, link.expires_ms) == ("rue", NOW_MS + LASTS_MS)
    assert ledger.notices()[0].body == parcel.body
    ledger.close()


def test_an_end_asks_whether_it_was_real(tmp_path: Path) -> None:
    """A clearing carries the two links of the scorecard."""
    ledger = Ledger.open(tmp_path / "ledger.db")
    body = with_links(_parcel(ledger, NoticeKind.CLEARED), ledger, BASE, NOW_MS)
    ledger.close()
    assert "It was real: " in body
    assert "It was needless: " in body


def test_a_night_drill_asks_whether_it_woke(tmp_path: Path) -> None:
    """It carries one link, bound to the person and to no alarm; a plain test carries none."""
    ledger = Ledger.open(tmp_path / "ledger.db")
    (night,) = ledger.add_notices([night_test(farm(), "rue", "1", "Ida", NOW_MS)])
    body = with_links(Parcel((night,), night.title, night.body), ledger, BASE, NOW_MS)
    (token,) = re.findall(rf"^It woke me: {BASE}/a/(\S+)$", body, re.MULTILINE)
    link = ledger.link(token)
    assert link == Link(None, night.id, "rue", LinkAction.WOKE, NOW_MS, NOW_MS + LASTS_MS)
    test = notice(NoticeKind.DRILL, priority="medium")
    assert with_links(Parcel((test,), test.title, test.body), ledger, BASE, NOW_MS) == test.body
    ledger.close()


def test_the_message_stands_without_them(tmp_path: Path) -> None:
    """Without an address of ours, or a ledger to write, the message goes as it is."""
    ledger = _Full.open(tmp_path / "ledger.db")
    parcel = _parcel(ledger, NoticeKind.RAISED)
    assert with_links(parcel, ledger, BASE, NOW_MS) == parcel.body
    assert with_links(parcel, ledger, None, NOW_MS) == parcel.body
    ledger.close()


def test_the_short_form_leaves_them_out(tmp_path: Path) -> None:
    """A service that takes only the gist gets no half of a link."""
    ledger = Ledger.open(tmp_path / "ledger.db")
    parcel = _parcel(ledger, NoticeKind.RAISED)
    body = with_links(parcel, ledger, BASE, NOW_MS)
    ledger.close()
    assert "/a/" not in short_form(parcel.title, body).body


def test_a_link_speaks_the_language_of_its_person(tmp_path: Path) -> None:
    """What a link answers is said in the language of whoever the message goes to."""
    ledger = Ledger.open(tmp_path / "ledger.db")
    parcel = _parcel(ledger, NoticeKind.RAISED)
    body = with_links(parcel, ledger, BASE, NOW_MS, translator("es"))
    assert re.findall(rf"^(.*): {BASE}", body, re.MULTILINE) == ["Vista", "Voy para allá"]
    ledger.close()
