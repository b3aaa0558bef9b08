"""How long a hand takes to record: what is pressed and typed on a phone, counted and weighed."""

from collections.abc import Iterator
from dataclasses import dataclass
from time import monotonic

import pytest
from playwright.sync_api import Locator, Page, expect

from monitor.batches import fold
from tests.system.browsing import Serving, browser, phone
from tests.web.desk import SmallDesk

pytestmark = pytest.mark.system

# The keystroke-level model (Card, Moran and Newell, Communications of the ACM 23(7), 1980; figures
# from memory): pointing 1.1 s and a press 0.2 s, a key 0.28 s, a thought before each step 1.35 s.
PRESS_S = 1.1 + 0.2
KEY_S = 0.28
THOUGHT_S = 1.35


@dataclass
class Thumb:
    """A hand that is counted: each press and choice, each key, and how long answers took."""

    page: Page
    presses: int = 0
    keys: int = 0
    thoughts: int = 0
    waited_s: float = 0.0

    def press(self, what: Locator, stands: Locator) -> None:
        """Press something and wait for what it leads to."""
        self.thoughts += 1
        self.presses += 1
        began_s = monotonic()
        what.tap()
        expect(stands).to_be_visible(timeout=30_000)
        self.waited_s += monotonic() - began_s

    def write(self, label: str, text: str) -> None:
        """Write into a field, which is pressed first unless the page has done so."""
        field = self.page.get_by_label(label, exact=True)
        self.thoughts += 1
        self.presses += not field.evaluate("each => each === document.activeElement")
        self.keys += len(text)
        field.fill(text)

    def choose(self, name: str, word: str) -> None:
        """Choose from a list: one press opens it, one picks."""
        self.thoughts += 1
        self.presses += 2
        self.page.locator(f"select[name={name}]").select_option(word)

    @property
    def takes_s(self) -> float:
        """Return how long a hand takes by the model, without waiting. [s]"""
        return self.presses * PRESS_S + self.keys * KEY_S + self.thoughts * THOUGHT_S

    def told(self, what: str) -> str:
        """Return the count in a line."""
        return (
            f"{what}: {self.presses} presses, {self.keys} keys, a hand {self.takes_s:.0f} s, "
            f"waited {self.waited_s:.1f} s"
        )


@pytest.fixture
def page(desk: SmallDesk) -> Iterator[Page]:
    """Yield a phone that has the batches before it."""
    served = Serving(desk).start()
    with browser() as opened:
        context = phone(opened)
        found = context.new_page()
        found.goto(f"{served.address}/batches")
        yield found
        context.close()
    served.stop()


def test_a_hand_records_quickly(page: Page, desk: SmallDesk) -> None:
    """A harvest and bunches out take ten seconds each, a batch begun and moved under thirty."""
    recorded = page.get_by_role("heading", name="Recorded")
    robin = page.get_by_role("button", name="Robin: record it")

    cut = Thumb(page)
    cut.press(page.locator("#lot-4").get_by_role("link", name="Harvest"), robin)
    cut.write("How many stems", "240")
    cut.press(robin, recorded)

    out = Thumb(page)
    out.press(page.locator("#lot-5").get_by_role("link", name="Out"), robin)
    out.write("Sold", "100")
    out.press(robin, page.get_by_text("100 sold"))

    page.goto(page.url.partition("/record")[0] + "/batches")
    begun = Thumb(page)
    begun.press(page.get_by_role("link", name="A batch begins"), robin)
    begun.choose("crop", "ranunculus")
    begun.write("Cultivar", "Hazel")
    begun.write("How many", "300")
    begun.choose("place", "sprouting-room")
    begun.choose("stage", "pre_sprout")
    begun.press(robin, recorded)

    moved = Thumb(page)
    moved.press(page.locator("#lot-6").get_by_role("link", name="Move"), robin)
    moved.choose("to", "tunnel-2")
    moved.choose("stage", "just_planted")
    moved.press(robin, recorded)

    for thumb, what in ((cut, "harvest"), (out, "out"), (begun, "add"), (moved, "move")):
        print(thumb.told(what))  # noqa: T201 - the figures of the document
    assert cut.takes_s < 10
    assert out.takes_s < 10
    assert begun.takes_s < 30
    assert moved.takes_s < 30
    book = fold(desk.ledger.entries()).batches
    assert (book[5].count, book[6].count, book[6].stays[-1].place) == (140, 300, "tunnel-2")
