"""Labels for crates, as a phone's camera sees them."""

import io
from collections.abc import Iterator

import pytest
import zxingcpp
from PIL import Image
from playwright.sync_api import Browser, Page

from monitor.report.labels import label, label_svg
from tests.system.browsing import ARTEFACTS, SIZES, Serving
from tests.web.desk import SmallDesk, furnished

pytestmark = pytest.mark.system

PAGES = """[pages]
listen = "0.0.0.0:8484"
base_url = "http://barn.local:8484"
"""


@pytest.fixture(scope="module")
def desk(tmp_path_factory: pytest.TempPathFactory) -> Iterator[SmallDesk]:
    """Yield a desk whose farm names the address of its pages."""
    made = furnished(tmp_path_factory.mktemp("desk") / "farm")
    path = made.folder / "farm.toml"
    own = '[pages]\nlisten = "127.0.0.1:8484"'
    text = path.read_text(encoding="utf-8")
    assert own in text
    path.write_text(text.replace(own, PAGES), encoding="utf-8")
    made.judge()
    yield made
    made.close()


@pytest.fixture(scope="module")
def address(desk: SmallDesk) -> Iterator[str]:
    """Yield where its pages are served."""
    served = Serving(desk).start()
    yield served.address
    served.stop()


def decoded(page: Page, name: str) -> list[str]:
    """Return what a reader of codes that is not ours finds in a picture of a page (ZXing)."""
    ARTEFACTS.mkdir(exist_ok=True)
    picture = page.screenshot(full_page=True, path=ARTEFACTS / f"{name}.png")
    found = zxingcpp.read_barcodes(Image.open(io.BytesIO(picture)).convert("L"))
    assert {str(each.format).rpartition(".")[2].replace(" ", "") for each in found} == {"QRCode"}
    return sorted(each.text for each in found)


@pytest.mark.parametrize(("size", "medium"), [("phone", "screen"), ("wide", "print")])
def test_each_code_opens_its_batch(chrome: Browser, address: str, size: str, medium: str) -> None:
    """An independent decoder reads from a picture of the sheet the address of each batch's page."""
    width, height = SIZES[size]
    context = chrome.new_context(
        viewport={"width": width, "height": height}, color_scheme="dark", device_scale_factor=2
    )
    page = context.new_page()
    page.goto(f"{address}/labels")
    page.emulate_media(media=medium)  # type: ignore[arg-type]
    assert decoded(page, f"labels-{size}-{medium}") == [
        f"http://barn.local:8484/batches/{number}" for number in (1, 2, 3, 4)
    ]
    assert page.get_by_text("Print this page").is_visible() is (medium == "screen")
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    context.close()


def test_a_batch_has_as_many_labels_as_crates(chrome: Browser, address: str) -> None:
    """The number typed on the page is the number of labels, each with its batch in words too."""
    context = chrome.new_context()
    page = context.new_page()
    page.goto(f"{address}/batches/2")
    page.get_by_role("link", name="Labels for its crates").click()
    page.get_by_label("Labels of each").fill("7")
    page.get_by_role("button", name="Show").click()
    assert decoded(page, "labels-of-one") == ["http://barn.local:8484/batches/2"] * 7
    said = page.locator(".crate").first.inner_text().split("\n")
    assert [each for each in said if each.strip()] == [
        "2", "Copper Veil", "Ranunculus", "cut stems", "Walk-in cooler", "since 22 Nov 2026",
    ]  # fmt: skip
    context.close()


def test_a_label_is_broken_over_no_page(chrome: Browser, address: str) -> None:
    """Each label stays whole on paper, and is as large there as it says: 90 by 46 mm."""
    context = chrome.new_context()
    page = context.new_page()
    page.goto(f"{address}/labels?copies=5")
    page.emulate_media(media="print")
    box = page.locator(".crate").first.bounding_box()
    assert box is not None
    inch = 96  # CSS Values and Units: 1 in is 96 px, and 25.4 mm
    assert (box["width"] * 25.4 / inch, box["height"] * 25.4 / inch) == pytest.approx(
        (90, 46), abs=0.5
    )
    broken = "getComputedStyle(document.querySelector('.crate')).breakInside"
    assert page.evaluate(broken) == "avoid"
    context.close()


def test_the_code_alone_is_read_too(chrome: Browser, desk: SmallDesk) -> None:
    """The drawing for a label printer of one's own holds the same address."""
    context = chrome.new_context(device_scale_factor=2)
    page = context.new_page()
    batch = desk.book().batches[3]
    page.set_content(label_svg(label(desk.farm(), batch, desk.now_ms())))
    assert decoded(page, "labels-drawing") == ["http://barn.local:8484/batches/3"]
    context.close()
