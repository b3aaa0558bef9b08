"""The sheets one prints: a batch's report, beside its earlier ones, the year, crate labels."""

import base64
import hashlib
import re
from collections.abc import Iterable
from typing import Final

from fastapi import APIRouter
from fastapi.responses import HTMLResponse

from monitor.batches import open_batches
from monitor.batches.rules.writing import known
from monitor.errors import FarmError, UnknownNameError
from monitor.model import Batch
from monitor.phrase import Phrase
from monitor.report.comparing import compare
from monitor.report.labels import labels_html
from monitor.report.page import report_html, table_html
from monitor.report.year import year_sheet, years_with_history
from monitor.web.batch_page import reported, sources
from monitor.web.guard import HEADERS
from monitor.web.look import Look
from monitor.web.rendering import Here, Pages
from monitor.web.sound import whole

_STYLE: Final = re.compile("<style>(.*?)</style>", re.DOTALL)
_ICON: Final = '<link rel="icon" href="/static/mark.svg" type="image/svg+xml">'
_POLICY: Final = "Content-Security-Policy"

router = APIRouter(include_in_schema=False, default_response_class=HTMLResponse)


@router.get("/batches/{batch_id}/report")
def report(pages: Here, batch_id: int) -> HTMLResponse:
    """Show what one batch has lived through, on one or two sheets."""
    return _sheet(report_html(reported(pages.look(), batch_id), f"/batches/{batch_id}"))


@router.get("/batches/{batch_id}/beside")
def beside(pages: Here, batch_id: int) -> HTMLResponse:
    """Show a batch beside the crop's earlier ones."""
    found = compare(sources(pages.look()), batch_id)
    return _sheet(table_html(found.page(), f"/batches/{batch_id}"))


@router.get("/year")
def newest_year(pages: Here) -> HTMLResponse:
    """Show the newest year in which a batch began."""
    return _sheet(table_html(year_sheet(sources(pages.look())).page(), "/batches"))


@router.get("/year/{year}")
def one_year(pages: Here, year: int) -> HTMLResponse:
    """Show what one year's lots became: the sheet one reorders from."""
    found = sources(pages.look())
    if year not in years_with_history(found):
        raise UnknownNameError(Phrase("There is no history of the year {year}.", year=year))
    return _sheet(table_html(year_sheet(found, year).page(), "/batches"))


@router.get("/labels")
def every_label(pages: Here, copies: int = 1) -> HTMLResponse:
    """Show a label for each batch that is here, to print and put on its crates."""
    look = pages.look()
    return _labels(pages, look, open_batches(look.book), copies, "/batches")


@router.get("/batches/{batch_id}/labels")
def labels(pages: Here, batch_id: int, copies: int = 1) -> HTMLResponse:
    """Show the label of one batch, as often as it has crates."""
    look = pages.look()
    return _labels(pages, look, [known(look.book, batch_id)], copies, f"/batches/{batch_id}")


def _labels(
    pages: Pages, look: Look, batches: Iterable[Batch], copies: int, back: str
) -> HTMLResponse:
    try:
        return _sheet(labels_html(look.farm, batches, look.now_ms, copies=copies, back=back))
    except FarmError as nowhere:
        return pages.page(look, "no_labels.html", "/batches", sentence=str(nowhere), back=back)


def _sheet(text: str) -> HTMLResponse:
    """Return a page that carries its own style, and lets that style alone in.

    References
    ----------
    W3C Content Security Policy Level 3, 8.3: a hash of an inline block's text (from memory).
    """
    text = whole(text).replace("<title>", f"{_ICON}<title>", 1)
    digests = (hashlib.sha256(each.encode()).digest() for each in _STYLE.findall(text))
    allowed = " ".join(f"'sha256-{base64.b64encode(each).decode()}'" for each in digests)
    policy = f"{HEADERS[_POLICY]}; style-src 'self' {allowed}"
    return HTMLResponse(text, headers={_POLICY: policy})
