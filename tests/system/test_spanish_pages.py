"""Every page in a real browser that likes Spanish, on a phone."""

from collections.abc import Iterator

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Page

from tests.system.browsing import ARTEFACTS, SIZES, Serving
from tests.system.every_page import every_page, picture_of
from tests.system.test_pages import SMALL_TARGETS
from tests.web.desk import SmallDesk
from tests.web.test_speaking import english_left

pytestmark = pytest.mark.system

LANGUAGE_RULES = ["html-has-lang", "html-lang-valid", "valid-lang", "html-xml-lang-mismatch"]
# The technical words of the glossary in Spanish, which no farm helper need know (from memory).
TECHNICAL = (
    "excursión",
    "cobertura",
    "canal",
    "magnitud",
    "carga útil",
    "suprimid",
    "null",
    "None",
)


def test_every_page_is_spanish_and_fits_a_phone(chrome: Browser, desk: SmallDesk) -> None:
    """Each says its language, has no English and no technical word, and is no wider than a phone.

    A picture of each is kept.
    """
    served = Serving(desk).start()
    width, height = SIZES["phone"]
    context = chrome.new_context(viewport={"width": width, "height": height}, locale="es-MX")
    ARTEFACTS.mkdir(exist_ok=True)
    page = context.new_page()
    pages = [each for each in every_page(served.address) if "/api/" not in each]
    found = [(each, wrong) for each in pages for wrong in _wrong(page, desk, served.address, each)]
    context.close()
    served.stop()
    assert found == []
    assert len(pages) > 30


def _wrong(page: Page, desk: SmallDesk, address: str, path: str) -> Iterator[object]:
    page.goto(f"{address}{path}")
    page.screenshot(path=ARTEFACTS / f"{picture_of(path)}-phone-es.png", full_page=True)
    text = page.locator("body").inner_text()
    if page.locator("html").get_attribute("lang") != "es":
        yield "lang"
    yield from english_left(page.content(), desk.farm())
    yield from (each for each in TECHNICAL if each in text)
    wide = page.evaluate("document.documentElement.scrollWidth")
    if wide > SIZES["phone"][0]:
        yield wide
    yield from page.evaluate(SMALL_TARGETS)
    rules = {"runOnly": {"type": "rule", "values": LANGUAGE_RULES}}
    yield from (each["id"] for each in Axe().run(page, options=rules).response["violations"])
