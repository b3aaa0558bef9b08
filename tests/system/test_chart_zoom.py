"""The chart under a finger: drawn apart, pushed along, and whole again."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, CDPSession, Page, expect

from tests.system.browsing import ARTEFACTS, Serving, phone
from tests.web.desk import furnished

pytestmark = pytest.mark.system


@pytest.fixture
def place(chrome: Browser, tmp_path: Path) -> Iterator[Page]:
    """Yield a cooler's page on a phone, its chart drawn."""
    desk = furnished(tmp_path / "farm")
    serving = Serving(desk).start()
    context = phone(chrome)
    page = context.new_page()
    page.goto(f"{serving.address}/places/walk-in-cooler")
    expect(page.locator(".uplot")).to_be_visible()
    page.locator("#chart").scroll_into_view_if_needed()
    yield page
    context.close()
    serving.stop()
    desk.close()


def _touch(fingers: CDPSession, kind: str, *at: tuple[float, float]) -> None:
    points = [{"x": x, "y": y, "id": number} for number, (x, y) in enumerate(at)]
    fingers.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": points})


def test_two_fingers_draw_time_apart(place: Page) -> None:
    """A pinch asks for a shorter time in finer points; one press shows the whole again."""
    box = place.locator("#chart .u-over").bounding_box()
    assert box is not None
    middle_x, middle_y = box["x"] + box["width"] * 0.6, box["y"] + box["height"] / 2
    fingers = place.context.new_cdp_session(place)
    with place.expect_response(lambda each: "/api/series" in each.url) as asked:
        _touch(fingers, "touchStart", (middle_x - 20, middle_y), (middle_x + 20, middle_y))
        for apart in (40, 60, 80):
            _touch(fingers, "touchMove", (middle_x - apart, middle_y), (middle_x + apart, middle_y))
        _touch(fingers, "touchEnd")
    told = asked.value.json()
    hours = (told["until_ms"] - told["since_ms"]) / 3_600_000
    assert 4.0 < hours < 9.0  # of 24: four times as wide apart
    whole = place.get_by_role("button", name="The whole time again")
    expect(whole).to_be_visible()
    place.screenshot(path=ARTEFACTS / "zoomed-phone-light.png")
    with place.expect_response(lambda each: "/api/series" in each.url) as again:
        whole.tap()
    told = again.value.json()
    assert (told["until_ms"] - told["since_ms"]) / 3_600_000 == pytest.approx(24.0, abs=0.1)
    expect(whole).to_be_hidden()


def test_what_the_lines_are_is_said(place: Page) -> None:
    """Under the chart stands what the thick and the dotted line and the bar on top are."""
    expect(place.locator("#chart-key")).to_have_text(
        "The thick line is what is kept there, as an estimate; the dotted line is the dew point; "
        "a bar along the top is an alarm"
    )
    place.get_by_text("What happened in this time").tap()
    expect(place.get_by_role("link", name="Walk-in cooler was too warm")).to_be_visible()
