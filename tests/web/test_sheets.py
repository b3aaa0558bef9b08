"""The sheets one prints, on the pages."""

import base64
import hashlib
import re

import pytest

from tests.web.visiting import Visitor

SHEETS = ["/batches/2/report", "/batches/1/beside", "/year", "/year/2026"]


@pytest.mark.parametrize("path", SHEETS)
def test_a_sheet_lets_in_its_own_style_alone(visitor: Visitor, path: str) -> None:
    """The policy names the hash of the style that the sheet carries, and no other source."""
    answer = visitor.get(path)
    assert answer.status_code == 200
    (style,) = re.findall("<style>(.*?)</style>", answer.text, re.DOTALL)
    digest = base64.b64encode(hashlib.sha256(style.encode()).digest()).decode()
    policy = answer.headers["content-security-policy"]
    assert f"style-src 'self' 'sha256-{digest}'" in policy
    assert "unsafe" not in policy
    assert "frame-ancestors 'none'" in policy


def test_each_tells_what_it_is_about(visitor: Visitor) -> None:
    """A report names its batch, the year its lots; an unknown batch is said to be none."""
    assert "Copper Veil" in visitor.get("/batches/2/report").text
    assert "Dawn Apricot" in visitor.get("/year/2026").text
    assert visitor.get("/batches/99/report").status_code == 404


@pytest.mark.parametrize(
    ("year", "said"),
    [
        ("1999", "No hay historia del año 1999."), ("2027", "No hay historia del año 2027."),
        ("-5", "No hay historia del año -5."), ("99999", "No hay historia del año 99999."),
        ("9" * 5_000, "No hay tal página."), ("soon", "No hay tal página."),
    ],
)  # fmt: skip
def test_a_year_without_history_is_no_page(visitor: Visitor, year: str, said: str) -> None:
    """Before the first batch, still to come or no year at all: not found, in one's language."""
    answer = visitor.get(f"/year/{year}", headers={"Accept-Language": "es"})
    assert answer.status_code == 404
    assert said in answer.text
    assert 'lang="es"' in answer.text


def test_the_pages_lead_to_them(visitor: Visitor) -> None:
    """A batch leads to its report and to its earlier ones, the batches to the year."""
    batch = visitor.get("/batches/2").text
    assert 'href="/batches/2/report"' in batch
    assert 'href="/batches/2/beside"' in batch
    assert 'href="/year"' in visitor.get("/batches").text
