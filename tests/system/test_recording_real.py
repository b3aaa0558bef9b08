"""Recording on a phone: by touch, by keys, without scripts, and without a signal."""

import time
from collections.abc import Callable

import pytest
from playwright.sync_api import Browser, Page, expect

from monitor.batches import fold
from monitor.model import EntryKind
from tests.system.brokers import free_port, wait_until
from tests.system.browsing import ARTEFACTS, Serving, phone
from tests.system.daemons import Watched
from tests.web.desk import HOUR_MS, NOW_MS, SmallDesk

pytestmark = pytest.mark.system

Farms = Callable[..., Watched]
KEPT = """async () => {
  for (const name of (await caches.keys()).filter((each) => each.startsWith("pages-")))
    if (await (await caches.open(name)).match("/record/hold")) return true;
  return false;
}"""


def _without_signal(page: Page) -> None:
    """Wait until the worker keeps the forms, then take the signal away."""
    wait_until(lambda: bool(page.evaluate(KEPT)))
    page.context.set_offline(True)


def test_a_harvest_and_bunches_out_by_thumb(
    chrome: Browser, serving: Serving, desk: SmallDesk
) -> None:
    """From the list of batches two taps and a count harvest; two more and a count: they are out."""
    context = phone(chrome)
    page = context.new_page()
    page.goto(f"{serving.address}/batches")
    page.locator("#lot-4").get_by_role("link", name="Harvest").tap()
    page.get_by_label("How many stems").fill("240")
    page.get_by_role("button", name="Wren: record it").tap()
    expect(page.get_by_role("heading", name="Recorded")).to_be_visible()
    page.locator("#lot-5").get_by_role("link", name="Out").tap()
    page.get_by_label("Sold", exact=True).fill("100")
    page.get_by_role("button", name="Wren: record it").tap()
    expect(page.get_by_text("100 sold")).to_be_visible()
    batches = fold(desk.ledger.entries()).batches
    assert (batches[4].count, batches[5].count, batches[5].stays[0].place) == (
        310, 140, "walk-in-cooler",
    )  # fmt: skip
    context.close()


def test_roots_are_tapped(chrome: Browser, serving: Serving, desk: SmallDesk) -> None:
    """A tap on a length counts one corm more."""
    context = phone(chrome)
    page = context.new_page()
    page.goto(f"{serving.address}/record/look?batch=1")
    for length, times in (("1", 3), ("½", 2)):
        for _ in range(times):
            page.get_by_role("button", name=f"one more of {length}", exact=True).tap()
    page.get_by_role("button", name="Robin: record it").tap()
    expect(page.get_by_text("roots of 5 corms")).to_be_visible()
    assert desk.ledger.entries()[-1].data["roots"]["lengths_mm"] == [12.7] * 2 + [25.4] * 3
    context.close()


def test_recording_needs_no_script(chrome: Browser, serving: Serving, desk: SmallDesk) -> None:
    """Without scripts a refusal keeps what was typed, and the corrected form is recorded."""
    context = phone(chrome, scripts=False)
    page = context.new_page()
    page.goto(f"{serving.address}/record/harvest?batch=4")
    page.get_by_label("How many stems").fill("many")
    page.get_by_role("button", name="Robin: record it").tap()
    expect(page.locator("#refused")).to_contain_text('"many" is no count')
    page.get_by_label("How many stems").fill("60")
    page.get_by_text("Not just now").tap()
    page.get_by_label("In words").fill("yesterday 16:00")
    page.get_by_role("button", name="Robin: record it").tap()
    expect(page.get_by_text("yesterday 16:00 · Robin").first).to_be_visible()
    assert fold(desk.ledger.entries()).batches[5].count == 60
    context.close()


def test_recording_by_keys_alone(chrome: Browser, serving: Serving, desk: SmallDesk) -> None:
    """The first field has the focus; typing, tabs and Enter record."""
    context = chrome.new_context(viewport={"width": 1280, "height": 800})
    page = context.new_page()
    page.goto(f"{serving.address}/record/out?batch=2")
    page.keyboard.type("40")
    for _ in range(20):
        page.keyboard.press("Tab")
        if page.evaluate("document.activeElement.textContent") == "Wren: record it":
            break
    page.keyboard.press("Enter")
    expect(page.get_by_text("40 sold")).to_be_visible()
    assert fold(desk.ledger.entries()).batches[2].count == 600
    context.close()


def test_entries_wait_for_a_signal_and_arrive_once(chrome: Browser, farms: Farms) -> None:
    """Three looks in a basement, a daemon killed and started anew: each stands there once.

    The phone's clock is a day ahead: each entry is dated by the farm's all the same.
    """
    port = free_port()
    farm = farms(free_port())
    farm.program = ("-m", "monitor", "run", "--port", str(port), "--farm")
    farm.run(
        "batch", "add", "--crop", "ranunculus", "--cultivar", "Dawn Apricot", "--count", "300",
        "--place", "sprouting-room", "--stage", "pre_sprout", "--at", "2 d ago", "--by", "Wren",
    )  # fmt: skip
    farm.start(ready=False)
    context = phone(chrome)
    context.add_init_script(
        "const now = Date.now.bind(Date); Date.now = () => now() + 24 * 3600 * 1000;"
    )
    page = context.new_page()
    page.goto(f"{farm.address}/batches")
    _without_signal(page)
    wrote_ms = []
    for number in range(3):
        page.goto(f"{farm.address}/record/look?batch=1")
        expect(page.locator("#stale")).to_contain_text("This page is old")
        page.get_by_label("Note").fill(f"look {number}")
        if page.get_by_label("Your name").count():
            page.get_by_label("Your name").fill("Wren")
        wrote_ms.append(time.time() * 1000)
        page.locator("#record .by button").first.tap()
        expect(page.locator("#kept")).to_contain_text("Kept on this phone")
        expect(page.locator("#unsent summary")).to_have_text(f"{number + 1} not sent yet")
    page.screenshot(path=ARTEFACTS / "unsent-phone-light.png")
    page.goto(f"{farm.address}/batches")
    expect(page.locator("#unsent summary")).to_have_text("3 not sent yet")
    page.locator("#unsent summary").tap()
    page.screenshot(path=ARTEFACTS / "unsent-open-phone-light.png")
    farm.kill()
    farm.start(ready=False)
    context.set_offline(False)
    page.evaluate("dispatchEvent(new Event('online'))")
    expect(page.locator("#unsent")).to_be_hidden(timeout=30_000)
    expect(page.locator("#stale")).to_be_hidden(timeout=30_000)
    with farm.ledger() as ledger:
        seen = [each for each in ledger.entries() if each.kind is EntryKind.OBSERVED]
    assert [each.data["note"] for each in seen] == ["look 0", "look 1", "look 2"]
    assert all(abs(a.at_ms - b) < 5000 for a, b in zip(seen, wrote_ms, strict=True))
    context.close()


def test_a_clock_put_right_meanwhile_dates_nothing_wrongly(
    chrome: Browser, serving: Serving, desk: SmallDesk
) -> None:
    """Written down by a clock a day behind, sent by the right one: the phone asks for the time."""
    context = phone(chrome)
    context.add_init_script(
        "const now = Date.now.bind(Date);"
        "Date.now = () => now() - (localStorage.getItem('behind') ? 24 * 3600 * 1000 : 0);"
    )
    page = context.new_page()
    page.goto(f"{serving.address}/batches")
    page.evaluate("localStorage.setItem('behind', 'yes')")
    page.goto(f"{serving.address}/record/look?batch=1")
    _without_signal(page)
    page.goto(f"{serving.address}/record/look?batch=1")
    page.get_by_label("Note").fill("by which clock")
    page.get_by_role("button", name="Wren: record it").tap()
    expect(page.locator("#unsent summary")).to_have_text("1 not sent yet")
    page.evaluate("localStorage.removeItem('behind')")
    context.set_offline(False)
    page.goto(f"{serving.address}/batches")
    expect(page.locator("#unsent summary")).to_have_text("1 not taken")
    page.locator("#unsent summary").tap()
    expect(page.locator("#unsent")).to_contain_text("the phone's clock was changed")
    page.get_by_role("link", name="Correct it").tap()
    page.get_by_text("Not just now").tap()
    page.get_by_label("In words").fill("today 11:00")
    page.get_by_role("button", name="Wren: record it").tap()
    expect(page.get_by_text("seen: by which clock").first).to_be_visible()
    assert desk.ledger.entries()[-1].at_ms == NOW_MS - HOUR_MS
    context.close()


def test_a_lost_answer_does_not_record_twice(
    chrome: Browser, serving: Serving, desk: SmallDesk
) -> None:
    """The entry arrives and its answer is lost: it is sent again, and stands there once."""
    context = phone(chrome)
    page = context.new_page()
    page.goto(f"{serving.address}/record/look?batch=1")
    page.get_by_label("Note").fill("heard once")
    lost = []

    def lose(route: object) -> None:
        answer = route.fetch()  # type: ignore[attr-defined]
        lost.append(answer.status)
        route.abort() if len(lost) < 3 else route.fulfill(response=answer)  # type: ignore[attr-defined]

    page.route("**/api/entries", lose)
    page.get_by_role("button", name="Wren: record it").tap()
    expect(page.locator("#unsent summary")).to_have_text("1 not sent yet")
    for _ in range(2):
        page.evaluate("dispatchEvent(new Event('online'))")
        page.wait_for_timeout(300)
    expect(page.locator("#unsent")).to_be_hidden(timeout=30_000)
    assert lost == [200, 200, 200]
    notes = [each.data.get("note") for each in desk.ledger.entries()]
    assert notes.count("heard once") == 1
    context.close()


def test_what_is_not_taken_is_corrected_on_the_phone(
    chrome: Browser, serving: Serving, desk: SmallDesk
) -> None:
    """An entry refused later keeps its words and its reason, is corrected, or dropped."""
    context = phone(chrome)
    page = context.new_page()
    page.goto(f"{serving.address}/record/look?batch=1")
    _without_signal(page)
    for note, when in (("to mend", "2026-01-01 10:00"), ("to drop", "2026-01-02 10:00")):
        page.goto(f"{serving.address}/record/look?batch=1")
        page.get_by_label("Note").fill(note)
        page.get_by_text("Not just now").tap()
        page.get_by_label("In words").fill(when)
        page.get_by_role("button", name="Wren: record it").tap()
        expect(page.locator("#kept")).to_be_visible()
    context.set_offline(False)
    page.goto(f"{serving.address}/batches")
    summary = page.locator("#unsent summary")
    expect(summary).to_have_text("2 not taken")
    summary.tap()
    expect(page.locator("#unsent")).to_contain_text("Not taken, because batch 1 has been here only")
    page.screenshot(path=ARTEFACTS / "not-taken-phone-light.png")
    page.locator("#unsent li").filter(has_text="Drop").last.get_by_role("button").tap()
    expect(summary).to_have_text("1 not taken")
    page.get_by_role("link", name="Correct it").tap()
    expect(page.get_by_label("Note")).to_have_value("to mend")
    page.get_by_label("In words").fill("")
    page.get_by_role("button", name="Wren: record it").tap()
    expect(page.get_by_text("seen: to mend").first).to_be_visible()
    expect(page.locator("#unsent")).to_be_hidden()
    assert "to drop" not in [each.data.get("note") for each in desk.ledger.entries()]
    context.close()


def test_an_old_page_is_called_old(chrome: Browser, serving: Serving) -> None:
    """Without a signal a page seen before shows its age, one never seen says so."""
    context = phone(chrome)
    page = context.new_page()
    page.goto(f"{serving.address}/places/tunnel-1")
    page.goto(serving.address)
    wait_until(lambda: bool(page.evaluate(KEPT)))
    page.goto(f"{serving.address}/places/walk-in-cooler")
    _without_signal(page)
    page.goto(f"{serving.address}/places/walk-in-cooler")
    stale = page.locator("#stale")
    expect(stale).to_be_visible()
    expect(stale).to_have_text(
        "No word from the monitor. This page is old: it is as of Wednesday 25 November 2026, 12:00."
    )
    page.screenshot(path=ARTEFACTS / "no-signal-phone-light.png")
    page.goto(f"{serving.address}/places/dry-store")
    expect(page.get_by_role("heading", name="No signal")).to_be_visible()
    page.goto(f"{serving.address}/batches")
    expect(stale).to_be_visible()
    context.set_offline(False)
    expect(stale).to_be_hidden(timeout=20_000)
    context.close()
