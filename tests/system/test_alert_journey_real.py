"""From the alert on a phone to its end: three taps, timed; by keys alone; without scripts."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from time import monotonic

import pytest
from playwright.sync_api import Browser, Locator, Page, expect

from monitor.model import AlarmState, Link, LinkAction
from tests.system.browsing import ARTEFACTS, Serving, phone
from tests.web.desk import COURSES as BEFORE
from tests.web.desk import DAY_MS, HOUR_MS, SmallDesk, furnished, readings, steady

pytestmark = pytest.mark.system

TOKEN = "a-token-of-this-journey"  # noqa: S105 - made for this test
Press = Callable[[Locator], None]


@dataclass
class Journey:
    """A phone on its way: each step is a press, and how long until its answer stood there."""

    page: Page
    press: Press
    steps: list[tuple[str, float]] = field(default_factory=list)

    def step(self, name: str, act: Callable[[], object], stands: Locator) -> None:
        """Take one step and wait for what it leads to. [s]"""
        began = monotonic()
        act()
        expect(stands).to_be_visible(timeout=30_000)
        self.steps.append((name, monotonic() - began))

    def told(self) -> str:
        """Return the steps in a line each."""
        return "\n".join(f"{name}: {took:.2f} s" for name, took in self.steps)


@pytest.fixture
def desk(tmp_path: Path) -> Iterator[SmallDesk]:
    """Yield a desk whose cooler fails, and that sent Wren a link to say that it is seen."""
    made = furnished(tmp_path / "farm")
    link = Link(1, None, "wren", LinkAction.SEEN, made.now, made.now + DAY_MS)
    made.ledger.add_link(TOKEN, link)
    yield made
    made.close()


def tapped(target: Locator) -> None:
    """Tap something."""
    target.tap()


def keyed(target: Locator) -> None:
    """Reach something by the tabulator alone, and press Enter."""
    page = target.page
    for _ in range(60):
        page.keyboard.press("Tab")
        if target.evaluate("each => each === document.activeElement"):
            page.keyboard.press("Enter")
            return
    pytest.fail("the keys never reached it")


def cooled(desk: SmallDesk) -> None:
    """Let the cooler be mended, and three hours pass in band."""
    desk.now += 3 * HOUR_MS
    for channel in BEFORE:
        if channel.sensor.startswith("cooler") and channel.quantity.value == "temperature":
            desk.write(readings(channel, steady(3.2), hours=2.9, until_ms=desk.now))
    desk.judge()


@pytest.mark.parametrize("way", ["touch", "keys", "no script"])
def test_alert_to_end_in_three_presses(
    chrome: Browser, serving: Serving, desk: SmallDesk, way: str
) -> None:
    """The link, "Seen", and how it stands: why is told on the way, and the end without a press."""
    context = phone(chrome, scripts=way != "no script")
    page = context.new_page()
    trip = Journey(page, keyed if way == "keys" else tapped)
    seen = page.get_by_role("button", name="Seen")
    link = f"{serving.address}/a/{TOKEN}"
    trip.step("1 the link of the message: what is wrong, and why", lambda: page.goto(link), seen)
    expect(page.get_by_role("heading", name="Walk-in cooler is too warm")).to_be_visible()
    expect(page.get_by_text("First look: door, breaker, ice on the coil")).to_be_visible()
    page.screenshot(path=ARTEFACTS / "journey-1-phone-light.png")
    stands = page.get_by_role("link", name="See how it stands now")
    trip.step("2 Seen: it is acknowledged", lambda: trip.press(seen), stands)
    assert desk.ledger.alarm(1).acknowledged_by == "Wren"
    page.screenshot(path=ARTEFACTS / "journey-2-phone-light.png")
    by_whom = page.get_by_text("seen by Wren at 12:00").first
    trip.step(
        "3 how it stands: who has seen it, why it is told", lambda: trip.press(stands), by_whom
    )
    expect(page.get_by_role("heading", name="Why this is told")).to_be_visible()
    page.screenshot(path=ARTEFACTS / "journey-3-phone-light.png")
    cooled(desk)
    serving.tell()
    over = page.get_by_role("heading", name="Walk-in cooler was too warm")
    again = page.reload if way == "no script" else (lambda: None)
    trip.step("its end, by itself", again, over)
    page.screenshot(path=ARTEFACTS / "journey-4-phone-light.png")
    assert desk.ledger.alarm(1).state is AlarmState.NORMAL
    print(f"{way}\n{trip.told()}")  # noqa: T201 - the figures of the document
    assert len(trip.steps) == 4
    assert all(took < 20 for _, took in trip.steps)
    context.close()
