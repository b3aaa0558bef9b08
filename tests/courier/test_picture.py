"""The picture of a message: what is told in its pixels, and a text that goes without it."""

import threading
from io import BytesIO
from pathlib import Path

import pytest
from PIL import Image
from pydantic import SecretStr

from monitor.courier.courier import Courier
from monitor.courier.delivering import Uploads, deliver
from monitor.courier.picture import (
    BAND,
    HEIGHT,
    INK,
    PAPER,
    SHELF,
    UP,
    WIDTH,
    Chart,
    Edge,
    png,
    scale_of,
    x_of,
)
from monitor.model import Notice, NoticeKind
from monitor.store import Ledger
from tests.courier.made import Box, HandClock, notice
from tests.system.brokers import wait_until

PHONE = SecretStr("box://phone")
RISING = Chart(
    title="Walk-in cooler: air 45.0 °F", begin="06:00", end="12:00",
    runs=[[(0.0, 38.0), (0.5, 38.0), (1.0, 45.0)]],
    shelf=(Edge(36.0, "36 °F"), Edge(40.0, "40 °F")), low=Edge(33.0, "33 °F"),
    high=Edge(42.0, "42 °F"),
)  # fmt: skip


def _near(image: Image.Image, at: tuple[float, float], ink: tuple[int, int, int]) -> bool:
    """Return whether a pixel or one beside it has nearly a colour."""
    x, y = round(at[0]), round(at[1])
    beside = [image.getpixel((x + dx, y + dy)) for dx in (-1, 0, 1) for dy in (-1, 0, 1)]
    return any(
        isinstance(each, tuple) and max(abs(a - b) for a, b in zip(each, ink, strict=True)) < 40
        for each in beside
    )


def test_the_line_crosses_the_edge_of_the_band_where_it_did() -> None:
    """A rise from 38 to 45 in the last three hours crosses 40 after two sevenths of them."""
    image = Image.open(BytesIO(png(RISING)))
    assert (image.format, image.size) == ("PNG", (WIDTH, HEIGHT))
    plain, scale = image.convert("RGB"), scale_of(RISING)
    crossing = x_of(0.5 + 0.5 * 2 / 7)  # by hand: (40 - 38) / (45 - 38)
    assert _near(plain, (crossing, scale.y(40.0)), INK)
    assert not _near(plain, (crossing - 40, scale.y(40.0)), INK)
    assert _near(plain, (crossing - 40, scale.y(39.7)), SHELF)
    assert _near(plain, (crossing - 40, scale.y(40.5)), PAPER)
    assert _near(plain, (x_of(0.1), scale.y(36.0)), BAND)
    row = [_near(plain, (x, scale.y(42.0)), UP) for x in range(20, 300)]
    assert True in row
    assert False in row  # dashed: a limit is told by its shape too


def test_what_is_not_known_is_a_gap() -> None:
    """Between two stretches nothing is drawn, and a lone reading is a dot."""
    runs = [[(0.1, 38.0), (0.3, 38.0)], [(0.7, 38.0), (0.8, 38.0)]]
    chart = Chart("t", "a", "b", runs, RISING.shelf, RISING.low, RISING.high)
    plain, y = Image.open(BytesIO(png(chart))).convert("RGB"), scale_of(chart).y(38.0)
    assert [_near(plain, (x_of(at), y), INK) for at in (0.2, 0.5, 0.75)] == [True, False, True]


def test_the_text_goes_all_the_same_where_the_picture_is_refused() -> None:
    """A service that takes no picture gets the whole text, at once and plain."""
    box = Box(takes_pictures=False)
    assert deliver(box, PHONE, "Title", "Body.", b"png", Uploads(5)).sent
    assert [(part.title, part.body) for _, part in box.sent] == [("Title", "Body.")]
    assert box.pictures == [None]


def test_a_text_is_not_sent_again_for_its_picture() -> None:
    """Where a service takes them one after the other, a picture that fails changes nothing."""
    box = Box(takes_pictures=False, in_one=False)
    assert deliver(box, PHONE, "Title", "Body.", b"png", Uploads(5)).sent
    assert [(part.title, part.body) for _, part in box.sent] == [("Title", "Body.")]
    taken = Box(in_one=False)
    assert deliver(taken, PHONE, "Title", "Body.", b"png", Uploads(5)).sent
    assert [(part.title, part.body) for _, part in taken.sent] == [
        ("Title", "Body."), ("", "The last hours."),
    ]  # fmt: skip
    assert taken.pictures == [None, b"png"]


@pytest.mark.parametrize("in_one", [True, False])
def test_a_picture_that_hangs_holds_up_nothing(*, in_one: bool) -> None:
    """Past its deadline the text has gone once, and the next goes at once and without one."""
    now_s = [0.0]
    held = threading.Event()
    box = Box(in_one=in_one, holds_pictures=held)
    uploads = Uploads(0.05, lambda: now_s[0])
    for title in ("One", "Two"):
        assert deliver(box, PHONE, title, "Body.", b"png", uploads).sent
        assert box.pictures == [None] * len(box.sent)
    assert [part.title for _, part in box.sent] == ["One", "Two"]
    assert not uploads.welcome()
    held.set()
    now_s[0] += 3600.0
    wait_until(uploads.welcome)


def test_a_picture_goes_with_the_first_part_only() -> None:
    """A text in several parts carries its picture once."""
    box = Box()
    assert deliver(box, PHONE, "Title", "word " * 400, b"png", Uploads(5)).sent
    assert len(box.pictures) > 1
    assert [each is not None for each in box.pictures] == [True, *[False] * (len(box.pictures) - 1)]


def _sent(folder: Path, rows: list[Notice], *, to: bool = True, fails: bool = False) -> Box:
    """Send notices by a courier that draws, and return what went."""

    def drawn(_: Notice) -> bytes:
        if fails:
            raise OSError("no font")
        return b"png"

    box = Box()
    courier = Courier(
        folder / "ledger.db", {("rue", "1"): PHONE}, HandClock(), transport=box,
        picture=drawn, pictures_to={("rue", "1")} if to else (),
    )  # fmt: skip
    with_rows = Ledger.open(folder / "ledger.db")
    with_rows.add_notices(rows)
    with_rows.close()
    courier.prepare()
    (worker,) = courier.workers
    for _ in rows:
        worker.round()
        worker.land(5.0)
    courier.stop()
    return box


@pytest.mark.parametrize(
    ("to", "fails", "kind", "drawn"),
    [
        (True, False, NoticeKind.RAISED, b"png"),
        (False, False, NoticeKind.RAISED, None),  # nobody asked for it
        (True, True, NoticeKind.RAISED, None),  # it could not be drawn
        (True, False, NoticeKind.DRILL, None),  # nothing to show
    ],
)
def test_only_who_asked_gets_one_and_nothing_keeps_the_text_back(
    tmp_path: Path, kind: NoticeKind, drawn: bytes | None, *, to: bool, fails: bool
) -> None:
    """The text goes in every case; the picture where it was asked for and could be drawn."""
    box = _sent(tmp_path, [notice(kind)], to=to, fails=fails)
    assert len(box.sent) == 1
    assert box.pictures == [drawn]
