"""The pages in a real browser: at two widths, in two lights, by touch, live, without scripts."""

from collections.abc import Iterator
from pathlib import Path
from typing import Literal

import pytest
from playwright.sync_api import Browser, expect

from monitor.model import Channel, Quantity
from tests.system.browsing import ARTEFACTS, SIZES, Serving, Watched, browser, phone
from tests.web.desk import SmallDesk, furnished, readings, starter_farm, steady

pytestmark = pytest.mark.system

PAGES = {
    "now": "/", "place": "/places/walk-in-cooler", "tunnel": "/places/tunnel-2",
    "batches": "/batches", "batch": "/batches/2",
    "report": "/batches/2/report", "beside": "/batches/1/beside", "year": "/year",
    "alarms": "/alarms", "alarm": "/alarms/1",
    "sensors": "/sensors", "help": "/help", "missing": "/nowhere", "programs": "/api/",
    "sign-in": "/sign-in", "account": "/account",
}  # fmt: skip
WATCH_SHIFTS = """
  window.shifts = 0;
  new PerformanceObserver((list) => {
    for (const each of list.getEntries()) window.shifts += each.value;
  }).observe({ type: "layout-shift", buffered: true });
"""
INKED = """() => {
  const canvas = document.querySelector(".uplot canvas");
  const { data } = canvas.getContext("2d").getImageData(0, 0, canvas.width, canvas.height);
  const probe = document.createElement("i");
  probe.style.color = "var(--ink)";
  document.body.append(probe);
  const ink = getComputedStyle(probe).color.match(/\\d+/g).map(Number);
  let found = 0;
  for (let at = 0; at < data.length; at += 4)
    if (ink.every((part, which) => Math.abs(part - data[at + which]) < 12)) found += 1;
  return found;
}"""
SMALL_TARGETS = """() => [...document.querySelectorAll("a, button, summary, input[required]")]
  .filter((each) => each.checkVisibility() && !each.matches(".skip"))
  .map((each) => [each.textContent.trim(), each.matches(".whole") ? each.closest(".place") : each])
  .filter(([, box]) => box.getBoundingClientRect().height < 43.5)
  .map(([text]) => text)"""


@pytest.fixture(scope="module")
def chrome() -> Iterator[Browser]:
    """Yield the browser."""
    with browser() as opened:
        yield opened


@pytest.fixture
def desk(tmp_path: Path) -> Iterator[SmallDesk]:
    """Yield a desk whose alarm nobody has seen."""
    made = furnished(tmp_path / "farm")
    yield made
    made.close()


@pytest.fixture
def serving(desk: SmallDesk) -> Iterator[Serving]:
    """Yield its pages, served."""
    served = Serving(desk).start()
    yield served
    served.stop()


@pytest.mark.parametrize("light", ["light", "dark"])
@pytest.mark.parametrize("size", list(SIZES))
def test_every_page_fits_and_keeps_to_itself(
    chrome: Browser, serving: Serving, size: str, light: Literal["light", "dark"]
) -> None:
    """No page is wider than its window, shifts, complains, asks elsewhere or has small targets."""
    width, height = SIZES[size]
    context = chrome.new_context(viewport={"width": width, "height": height}, color_scheme=light)
    context.add_init_script(WATCH_SHIFTS)
    ARTEFACTS.mkdir(exist_ok=True)
    for name, path in PAGES.items():
        watched = Watched(context.new_page())
        page = watched.page
        page.goto(f"{serving.address}{path}")
        if page.locator("#chart").count():
            expect(page.locator(".uplot")).to_be_visible()
        page.screenshot(path=ARTEFACTS / f"{name}-{size}-{light}.png")
        assert page.evaluate("document.documentElement.scrollWidth") <= width, name
        assert page.evaluate("window.shifts") < 0.02, name
        assert page.evaluate(SMALL_TARGETS) == [], name
        assert watched.hosts == {"127.0.0.1"}, name
        if name != "missing":
            assert watched.complaints == [], name
        page.close()
    context.close()


def test_an_alarm_is_acknowledged_by_one_tap(
    chrome: Browser, serving: Serving, desk: SmallDesk
) -> None:
    """From the first page one tap on a name is enough, and the page says who has seen it."""
    context = phone(chrome)
    page = context.new_page()
    page.goto(serving.address)
    page.get_by_role("button", name="Wren has seen it").tap()
    expect(page.get_by_text("seen by Wren at 12:00")).to_be_visible()
    assert desk.ledger.alarm(1).acknowledged_by == "Wren"
    page.screenshot(path=ARTEFACTS / "acknowledged-phone-light.png")
    context.close()


def test_reading_and_acknowledging_need_no_script(
    chrome: Browser, serving: Serving, desk: SmallDesk
) -> None:
    """Without scripts a place shows its history as a drawing, and the button works."""
    context = phone(chrome, scripts=False)
    page = context.new_page()
    page.goto(f"{serving.address}/places/walk-in-cooler")
    expect(page.locator("#chart svg.scale")).to_be_visible()
    page.screenshot(path=ARTEFACTS / "no-script-phone-light.png", full_page=True)
    page.get_by_role("button", name="Robin has seen it").tap()
    expect(page.get_by_text("seen by Robin at 12:00")).to_be_visible()
    assert page.url.endswith("/places/walk-in-cooler#alarm-1")
    assert desk.ledger.alarm(1).acknowledged_by == "Robin"
    context.close()


def test_an_open_page_changes_by_itself(chrome: Browser, serving: Serving, desk: SmallDesk) -> None:
    """What someone else did appears on an open page, which keeps what was opened on it."""
    context = phone(chrome)
    page = context.new_page()
    with page.expect_response("**/live"):
        page.goto(f"{serving.address}/alarms")
    page.locator("#why-1 summary").tap()
    page.evaluate("document.getElementById('alarm-1').dataset.same = 'node'")
    desk.acknowledge(1, "Robin")
    serving.tell()
    expect(page.get_by_text("seen by Robin at 12:00")).to_be_visible()
    assert page.locator("#why-1").get_attribute("open") is not None
    assert page.locator("#alarm-1").count() == 1
    context.close()


def test_an_old_view_says_so(chrome: Browser, serving: Serving) -> None:
    """When the monitor has been silent for half a minute the page says that it may be old."""
    context = phone(chrome)
    page = context.new_page()
    page.clock.install()
    page.goto(serving.address)
    expect(page.locator("#stale")).to_be_hidden()
    serving.stop()
    page.clock.run_for(40_000)
    expect(page.locator("#stale")).to_be_visible()
    expect(page.get_by_text("What stands here may be old")).to_be_visible()
    page.screenshot(path=ARTEFACTS / "old-view-phone-light.png")
    context.close()


def test_the_chart_speaks_the_farms_time_and_unit(chrome: Browser, serving: Serving) -> None:
    """On a phone set to another zone the chart tells the farm's hour, in the farm's unit."""
    context = phone(chrome)
    page = context.new_page()
    page.goto(f"{serving.address}/places/walk-in-cooler?span=6h")
    chart = page.locator(".uplot .u-over")
    box = chart.bounding_box()
    assert box is not None
    chart.tap(position={"x": box["width"] / 2, "y": 40})
    said = page.locator("#readout")
    expect(said).to_contain_text("09:0")
    expect(said).to_contain_text("°F")
    context.close()


def test_every_page_is_light(chrome: Browser, serving: Serving) -> None:
    """A page with all its parts is under 250 kB on the wire."""
    context = phone(chrome)
    for path in PAGES.values():
        page = context.new_page()
        page.goto(f"{serving.address}{path}")
        sizes = page.evaluate(
            "performance.getEntriesByType('navigation')"
            ".concat(performance.getEntriesByType('resource')).map((each) => each.transferSize)"
        )
        assert sum(sizes) < 250_000, path
        page.close()
    context.close()


def test_a_chart_of_one_reading_shows_it(chrome: Browser, tmp_path: Path) -> None:
    """On the first minute of a farm its only reading is a dot: no line could be drawn."""
    desk = SmallDesk(starter_farm(tmp_path / "farm"))
    desk.write(readings(Channel("cooler-back", Quantity.TEMPERATURE), steady(3.3), hours=0.0))
    desk.judge()
    serving = Serving(desk).start()
    context = chrome.new_context(viewport={"width": 1280, "height": 800}, color_scheme="light")
    page = context.new_page()
    page.goto(f"{serving.address}/places/walk-in-cooler")
    expect(page.locator(".uplot")).to_be_visible()
    page.wait_for_function(f"({INKED})() > 8")
    page.screenshot(path=ARTEFACTS / "first-reading-wide-light.png")
    context.close()
    serving.stop()
    desk.close()
