"""Labels for crates: each with a code that opens its batch's page on a phone."""

import io
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final
from urllib.parse import urlsplit

from monitor.batches.telling import crop_name, place_name, stage_name
from monitor.batches.voice import Voice
from monitor.errors import FarmError, OutOfRangeError
from monitor.farm import Farm
from monitor.farm.checks.pages import loopback
from monitor.model import Batch
from monitor.phrase import Phrase
from monitor.report.page import template

NO_ADDRESS: Final = Phrase(
    "A label carries the address of a batch's page, and the farm's file names none that a phone "
    "can open. In farm.toml, under [pages], write base_url with the address at which your phone "
    "opens these pages, as https://ADDRESS:8484; then come back here."
)
MOST_COPIES: Final = 60
_QUIET_MODULES: Final = 4
_SHORT_MM: Final = 30


@dataclass(frozen=True, slots=True)
class Label:
    """What one label says; ``address`` opens the batch's page."""

    number: int
    crop: str
    cultivar: str
    stage: str
    place: str
    since: str
    address: str

    @property
    def code(self) -> str:
        """Return the drawing of its code, as SVG to stand in a page."""
        title = f"Opens the page of batch {self.number}"
        return _svg(self.address, xmldecl=False, svgns=False, omitsize=True, title=title)


def label(farm: Farm, batch: Batch, now_ms: int) -> Label:
    """Return the label of one batch, as it stands now.

    Raises
    ------
    FarmError
        If the farm's file names no address that a phone can open.
    """
    last = batch.stays[-1]
    day = Voice(farm.units, farm.zone, now_ms).date(last.since_ms)
    return Label(
        number=batch.id,
        crop=crop_name(farm, batch.crop),
        cultivar=batch.cultivar,
        stage=stage_name(farm, batch.crop, last.stage),
        place=place_name(farm, last.place),
        since=f"{day.day} {day:%b %Y}",
        address=f"{_base(farm)}/batches/{batch.id}",
    )


def label_svg(label: Label) -> str:
    """Return a label's code as an SVG file, 30 mm wide, black on white."""
    return _svg(label.address, unit="mm", title=f"Batch {label.number}", wide_mm=_SHORT_MM)


def labels_html(
    farm: Farm, batches: Iterable[Batch], now_ms: int, *, copies: int = 1, back: str = ""
) -> str:
    """Return a sheet of labels that prints well, ``copies`` of each batch's.

    Raises
    ------
    FarmError
        If the farm's file names no address that a phone can open.
    OutOfRangeError
        If so many copies are not made.
    """
    if not 1 <= copies <= MOST_COPIES:
        raise OutOfRangeError(f"{copies} copies of a label: choose 1 to {MOST_COPIES}")
    _base(farm)
    made = [label(farm, each, now_ms) for each in batches]
    return template("labels.html").render(
        farm_name=farm.name, labels=[(each, each.code) for each in made], copies=copies,
        most=MOST_COPIES, back=back,
    )  # fmt: skip


def _base(farm: Farm) -> str:
    base = farm.web.base_url
    if base is None or loopback(urlsplit(base).hostname or ""):
        raise FarmError(NO_ADDRESS)
    return base


def _svg(address: str, *, wide_mm: float | None = None, **how: str | bool) -> str:
    """Return the code of an address.

    References
    ----------
    ISO/IEC 18004: error correction level M restores about 15 % of a soiled code; a quiet zone of
    four modules stands around it (both from memory).
    """
    import segno  # noqa: PLC0415 - only who prints labels needs it

    code = segno.make_qr(address, error="m")
    modules, _ = code.symbol_size(border=_QUIET_MODULES)
    scale = 1.0 if wide_mm is None else wide_mm / modules
    out = io.BytesIO()
    code.save(
        out, kind="svg", border=_QUIET_MODULES, scale=scale, dark="#000", light="#fff",
        svgclass=None, lineclass=None, **how,
    )  # fmt: skip
    return out.getvalue().decode()
