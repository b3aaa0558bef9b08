"""A phone's queue and its kept pages, when who holds the phone changes or has to sign in again."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, expect

from monitor.access.accounts import Account, accounts_of
from monitor.access.passwords import hashed
from tests.system.brokers import wait_until
from tests.system.browsing import ARTEFACTS, Serving, phone
from tests.web.desk import SmallDesk, furnished

pytestmark = pytest.mark.system

PASSWORD = "wet glove 3am"  # noqa: S105 - a made-up one
ANOTHER = "dry glove 4am"
KEPT = """async () => {
  const found = [];
  for (const name of (await caches.keys()).filter((each) => each.startsWith("pages-")))
    for (const { url } of await (await caches.open(name)).keys()) found.push(new URL(url).pathname);
  return found.sort();
}"""


@pytest.fixture
def desk(tmp_path: Path) -> Iterator[SmallDesk]:
    """Yield a desk where everybody signs in, with passwords for both."""
    made = furnished(tmp_path / "farm")
    path = made.folder / "farm.toml"
    text = path.read_text(encoding="utf-8")
    path.write_text(text.replace("[pages]\n", '[pages]\nsign_in = "always"\n', 1), encoding="utf-8")
    for person in ("robin", "wren"):
        accounts_of(made.folder).keep(person, Account(hashed(PASSWORD)))
    made.judge()
    yield made
    made.close()


@pytest.fixture
def page(chrome: Browser, desk: SmallDesk) -> Iterator[Page]:
    """Yield a phone's page that Robin has signed in to, its forms kept for a cellar."""
    served = Serving(desk).start()
    context = phone(chrome)
    opened = context.new_page()
    opened.goto(f"{served.address}/sign-in")
    sign_in(opened, "robin", PASSWORD)
    expect(opened.locator("#nav")).to_be_visible()
    wait_until(lambda: "/record/hold" in opened.evaluate(KEPT))
    yield opened
    context.close()
    served.stop()


def sign_in(page: Page, name: str, password: str) -> None:
    """Fill in the sign-in page."""
    page.get_by_label("Your name here").fill(name)
    page.get_by_label("Password").fill(password)
    page.get_by_role("button", name="Sign in").tap()


def write_down(page: Page, note: str) -> None:
    """Write down a look without a signal."""
    page.context.set_offline(True)
    page.goto(page.url.split("/", 3)[0] + "//" + page.url.split("/", 3)[2] + "/record/look?batch=1")
    page.get_by_label("Note").fill(note)
    page.locator("#record .by button").first.tap()
    expect(page.locator("#kept")).to_contain_text("Kept on this phone")
    expect(page.locator("#unsent summary")).to_have_text("1 not sent yet")


def back(page: Page) -> None:
    """Come back into the signal."""
    page.context.set_offline(False)
    page.evaluate("dispatchEvent(new Event('online'))")


def notes(desk: SmallDesk, note: str) -> list[str]:
    """Return by whom a note was recorded, as often as it was."""
    return [each.by for each in desk.ledger.entries() if each.data.get("note") == note]


def test_what_waits_outlives_the_session(page: Page, desk: SmallDesk) -> None:
    """A session that ended meanwhile loses nothing: it asks to sign in, then arrives once."""
    write_down(page, "roots white")
    accounts_of(desk.folder).keep("robin", Account(hashed(ANOTHER)))  # ends the session
    back(page)
    summary = page.locator("#unsent summary")
    expect(summary).to_have_text("1 not sent yet: sign in again")
    assert notes(desk, "roots white") == []
    summary.tap()
    page.screenshot(path=ARTEFACTS / "unsent-signed-out-phone-light.png")
    page.locator("#unsent").get_by_role("link", name="Sign in").tap()
    sign_in(page, "robin", ANOTHER)
    expect(page.locator("#nav")).to_be_visible()
    wait_until(lambda: notes(desk, "roots white") == ["Robin"])
    expect(page.locator("#unsent")).to_be_hidden()
    page.reload()
    page.evaluate("dispatchEvent(new Event('online'))")
    expect(page.locator("#unsent")).to_be_hidden()
    assert notes(desk, "roots white") == ["Robin"]


def test_signing_out_leaves_no_page_and_loses_no_entry(page: Page, desk: SmallDesk) -> None:
    """Kept pages go with whoever signs out; an entry stays hers, and nobody else sends it."""
    write_down(page, "mould, a little")
    page.route("**/api/entries", lambda route: route.abort())
    page.context.set_offline(False)
    page.goto(page.url.replace("/record/look?batch=1", "/help"))
    page.get_by_role("button", name="Sign out").tap()
    expect(page.get_by_role("heading", name="Sign in")).to_be_visible()
    wait_until(lambda: page.evaluate(KEPT) == [])
    page.unroute("**/api/entries")
    summary = page.locator("#unsent summary")
    expect(summary).to_have_text("1 not sent yet")
    assert page.locator("#unsent li").count() == 0  # a stranger reads nothing of it
    page.context.set_offline(True)
    page.goto(page.url.partition("/sign-in")[0] + "/batches")
    expect(page.get_by_role("heading", name="No signal")).to_be_visible()
    page.context.set_offline(False)
    page.goto(page.url.replace("/batches", "/sign-in"))
    sign_in(page, "wren", PASSWORD)
    expect(page.locator("#unsent li")).to_contain_text(
        "Robin wrote this down: it is sent once Robin has signed in"
    )
    assert notes(desk, "mould, a little") == []
    page.get_by_role("button", name="Sign out").tap()
    sign_in(page, "robin", PASSWORD)
    expect(page.locator("#nav")).to_be_visible()
    wait_until(lambda: notes(desk, "mould, a little") == ["Robin"])
    expect(page.locator("#unsent")).to_be_hidden()
