"""Farms that no example shows, in a real browser on a narrow phone far from the farm's zone."""

from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, expect

from monitor.batches.counts import Count
from monitor.batches.rules import Start, add, move
from tests.system.brokers import wait_until
from tests.system.browsing import ARTEFACTS, SIZES, Serving, Watched, phone
from tests.web.desk import HOUR_MS, NOW_MS, SmallDesk, furnished, writing
from tests.web.odd_farms import LONG, MARKUP, desk_in, place

pytestmark = pytest.mark.system

NAMED = ("/", "/places/p1", "/places/p2", "/places/p1/card", "/batches", "/batches/1", "/batches/2",
         "/batches/1/report", "/batches/2/report", "/sensors", "/sensors/s1", "/sensors/s2",
         "/alarms", "/settings", "/settings/places/p1", "/settings/places/p2",
         "/record/look?batch=1", "/record/move?batch=2", "/labels")  # fmt: skip
EMPTY = ("/", "/batches", "/alarms", "/sensors", "/tonight", "/settings", "/labels", "/year",
         "/record/add", "/record/move")  # fmt: skip


@pytest.fixture
def served(chrome: Browser) -> Iterator[Callable[[SmallDesk], tuple[Watched, str]]]:
    """Return how to serve a desk and look at it on a phone; it is closed afterwards."""
    desks: list[SmallDesk] = []
    servings: list[Serving] = []
    context = phone(chrome)

    def serve(desk: SmallDesk) -> tuple[Watched, str]:
        desks.append(desk)
        servings.append(Serving(desk).start())
        return Watched(context.new_page()), servings[-1].address

    yield serve
    context.close()
    for serving in servings:
        serving.stop()
    for desk in desks:
        desk.close()


def fits(page: Page) -> bool:
    """Return whether nothing lies beyond the window's side."""
    width = SIZES["phone"][0]
    return bool(page.evaluate("document.documentElement.scrollWidth") <= width)


def test_names_break_no_page(
    served: Callable[[SmallDesk], tuple[Watched, str]], tmp_path: Path
) -> None:
    """Markup and 300 characters without a space are text: nothing runs, nothing hangs out."""
    endless = "Endless" * 42
    desk = desk_in(tmp_path, place(1, MARKUP, heard=True) + place(2, endless, heard=True))
    for where, name in (("p1", MARKUP), ("p2", endless), ("p1", LONG.strip())):
        start = Start(
            crop=name, cultivar=name, place=where, stage="bud", unit="plants", count=Count(5),
            supplier=name, lot=name, note=name,
        )  # fmt: skip
        desk.record(add(start, writing(1.0)))
    for number in range(200):  # to and fro: 200 stays more
        to = "p2" if number % 2 else "p1"
        desk.record(move(2, writing(0.9 - (number + 1) * 0.004), place=to))
    desk.judge()
    watched, address = served(desk)
    page = watched.page
    page.on("dialog", lambda box: pytest.fail(f"a script of a name ran: {box.message}"))
    broad = []
    for path in NAMED:
        answer = page.goto(f"{address}{path}")
        assert answer is not None
        assert answer.ok, path
        broad += [] if fits(page) else [path]
        assert page.locator("main script").count() == 0, path
    assert broad == []
    assert watched.complaints == []
    page.goto(f"{address}/places/p1")
    expect(page.get_by_role("heading", level=1)).to_have_text(MARKUP)
    page.goto(f"{address}/batches")
    page.screenshot(path=ARTEFACTS / "odd-names-phone-light.png")


def test_a_farm_without_places_can_be_walked(
    served: Callable[[SmallDesk], tuple[Watched, str]], tmp_path: Path
) -> None:
    """Every page of it stands, and the first says what to do."""
    watched, address = served(desk_in(tmp_path, ""))
    for path in EMPTY:
        answer = watched.page.goto(f"{address}{path}")
        assert answer is not None
        assert answer.ok, path
        assert fits(watched.page), path
    assert watched.complaints == []
    watched.page.goto(address)
    expect(watched.page.get_by_text("No places yet")).to_be_visible()


def test_two_hundred_places_can_be_read(
    served: Callable[[SmallDesk], tuple[Watched, str]], tmp_path: Path
) -> None:
    """They are all there to scroll through, none heard yet and none called good."""
    tunnels = "".join(place(number, f"Tunnel {number}", heard=True) for number in range(200))
    watched, address = served(desk_in(tmp_path, tunnels))
    page = watched.page
    for path in ("/", "/sensors", "/settings", "/record/add"):
        page.goto(f"{address}{path}")
        assert fits(page), path
    page.goto(address)
    expect(page.locator("article.place.unknown")).to_have_count(200)
    page.get_by_role("link", name="Tunnel 199").tap()
    expect(page.get_by_role("heading", name="Tunnel 199")).to_be_visible()
    expect(page.locator("#readout")).to_have_text("Nothing was heard in this time.")
    assert watched.complaints == []


def test_a_phone_in_another_zone_means_the_farms_clock(
    served: Callable[[SmallDesk], tuple[Watched, str]], tmp_path: Path
) -> None:
    """On a phone in Tokyo a time typed and a time read are those of the farm in New York.

    16:00 there is 21:00 UTC in November (IANA time zone database).
    """
    desk = furnished(tmp_path / "farm")
    watched, address = served(desk)
    page = watched.page
    page.goto(f"{address}/record/look?batch=1")
    assert page.evaluate("Intl.DateTimeFormat().resolvedOptions().timeZone") == "Asia/Tokyo"
    page.get_by_label("Note").fill("seen from afar")
    page.get_by_text("Not just now").tap()
    page.get_by_label("or by the farm's clock").fill("2026-11-24T16:00")
    page.get_by_role("button", name="Wren: record it").tap()
    expect(page.get_by_text("yesterday 16:00 · Wren").first).to_be_visible()
    assert desk.ledger.entries()[-1].at_ms == NOW_MS - 20 * HOUR_MS
    page.goto(f"{address}/places/tunnel-1?span=6h")
    chart = page.locator("#chart .u-over")
    expect(chart).to_be_visible()
    box = chart.bounding_box()
    assert box is not None

    def points_at_noon() -> bool:
        page.mouse.move(box["x"] + box["width"] - 2, box["y"] + box["height"] / 2)
        told = page.locator("#readout").inner_text()
        return told.startswith(("Wed, Nov 25, 12:0", "Wed, Nov 25, 11:5"))

    wait_until(points_at_noon)
