"""Every page in a real browser: for those who see little, and over a thin connection."""

from collections.abc import Iterator
from typing import Literal

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, BrowserContext, Page, Response

from tests.system.browsing import SIZES, Serving
from tests.system.every_page import READ, every_page
from tests.web.desk import furnished
from tests.web.paths import filled

pytestmark = pytest.mark.system

GRAVE = {"serious", "critical"}
MOST_BYTES = 250_000


@pytest.fixture(scope="module")
def serving(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Serving]:
    """Yield the pages of a furnished desk, served."""
    desk = furnished(tmp_path_factory.mktemp("desk") / "farm")
    served = Serving(desk).start()
    yield served
    served.stop()
    desk.close()


@pytest.fixture(scope="module")
def pages(serving: Serving) -> list[str]:
    """Return the path of every route that answers with a page."""
    return every_page(serving.address)


def test_every_kind_of_path_has_an_example() -> None:
    """No page is left out because nobody thought of an example for its path."""
    assert [path for path in map(filled, READ) if "{" in path] == []


@pytest.mark.parametrize("light", ["light", "dark"])
def test_no_page_shuts_anybody_out(
    chrome: Browser, serving: Serving, pages: list[str], light: Literal["light", "dark"]
) -> None:
    """The axe engine (axe-core, WCAG 2 A and AA and good practice) finds nothing grave."""
    width, height = SIZES["phone"]
    context = chrome.new_context(viewport={"width": width, "height": height}, color_scheme=light)
    found = []
    for path in pages:
        page = context.new_page()
        page.goto(f"{serving.address}{path}")
        found += [(path, *each) for each in _grave(page)]
        page.close()
    page = context.new_page()
    page.set_content("<main><img src='x.png'><input></main>")
    assert {rule for rule, _ in _grave(page)} >= {"image-alt", "label"}  # it does find things
    context.close()
    assert len(pages) > 10
    assert found == []


def _grave(page: Page) -> list[tuple[str, list[str]]]:
    """Return each rule that is gravely broken, and where."""
    return [
        (each["id"], [node["html"][:120] for node in each["nodes"]][:3])
        for each in Axe().run(page).response["violations"]
        if each["impact"] in GRAVE
    ]


def test_every_page_is_light(chrome: Browser, serving: Serving, pages: list[str]) -> None:
    """What a page brings over the air the first time is under 250 kB, all its parts together."""
    heavy = {}
    for path in pages:
        context = chrome.new_context()
        brought = sum(_brought(each) for each in _answers(context, f"{serving.address}{path}"))
        if not 0 < brought < MOST_BYTES:
            heavy[path] = brought
        context.close()
    assert heavy == {}


def _answers(context: BrowserContext, address: str) -> list[Response]:
    """Return every answer that a page and its parts came by."""
    page = context.new_page()
    parts: list[Response] = []

    def keep(part: Response) -> None:
        parts.append(part)

    page.on("response", keep)
    page.goto(address, wait_until="load")
    return parts


def _brought(response: Response) -> int:
    """Return how many bytes an answer cost, as sent; a stream that stays open costs its head."""
    if response.url.endswith("/live"):
        return 0
    response.finished()
    sizes = response.request.sizes()
    return int(sizes["responseBodySize"] + sizes["responseHeadersSize"])
