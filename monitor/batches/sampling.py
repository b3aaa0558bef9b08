"""Reading a sample of roots as a person notes it."""

import re
from typing import Final

from monitor.batches.book import Roots
from monitor.errors import LedgerRuleError
from monitor.phrase import Phrase

_MM: Final = {"mm": 1.0, "cm": 10.0, "in": 25.4, "inch": 25.4, "inches": 25.4, '"': 25.4}
_SHARE = re.compile(r"(\d{1,6})\s*(?:of|/)\s*(\d{1,6})", re.ASCII)
_PERCENT = re.compile(r"(\d+(?:\.\d+)?)\s*%", re.ASCII)
_LENGTHS = re.compile(r"([\d.\s,;]+?)\s*(mm|cm|inches|inch|in|\")", re.ASCII)
_NUMBER = re.compile(r"\d+(?:\.\d+)?|\.\d+", re.ASCII)
LONGEST_MM: Final = 500.0


def parse_length_mm(text: str) -> float:
    """Read one length with its unit, as ``"1 in"`` or ``"25 mm"``. [mm]

    Raises
    ------
    LedgerRuleError
        If it is no single length from 0 to 500 mm.
    """
    lengths = _lengths_mm(text)
    if len(lengths) != 1:
        raise LedgerRuleError(
            Phrase(
                "{text!r} is no length: write it with its unit, as 1 in or 25 mm",
                text=text,
            )
        )
    return lengths[0]


def parse_roots(text: str, at_length_mm: float | None = None) -> Roots:
    """Read ``"22 of 25"``, ``"80 %"``, ``"12, 15, 20 mm"`` or ``"0.5 1 1.25 in"``.

    Parameters
    ----------
    text : str
        As noted beside the tray.
    at_length_mm : float, optional
        The length a share was judged by, if not the farm's own. [mm]

    Raises
    ------
    LedgerRuleError
        If it is none of these, or a figure is beyond reason.
    """
    plain = text.strip().lower()
    share = _SHARE.fullmatch(plain)
    if share is not None:
        return _counted(int(share[1]), int(share[2]), at_length_mm)
    percent = _PERCENT.fullmatch(plain)
    if percent is not None and float(percent[1]) <= 100:  # noqa: PLR2004 - the whole
        return Roots((), None, None, float(percent[1]) / 100, at_length_mm)
    lengths = _lengths_mm(plain)
    if not lengths:
        raise LedgerRuleError(
            Phrase(
                "{text!r} is no sample of roots: write 22 of 25, 80 %, or lengths with their "
                "unit, as 12, 15, 20 mm or 0.5 1 1.25 in",
                text=text,
            )
        )
    return Roots(tuple(lengths), None, len(lengths), None, None)


def _counted(rooted: int, of: int, at_length_mm: float | None) -> Roots:
    if not 0 <= rooted <= of or of == 0:
        raise LedgerRuleError(
            Phrase(
                "{rooted} of {of} cannot have roots: write it as 22 of 25",
                rooted=rooted,
                of=of,
            )
        )
    return Roots((), rooted, of, rooted / of, at_length_mm)


def _lengths_mm(text: str) -> list[float]:
    found = _LENGTHS.fullmatch(text.strip().lower())
    if found is None:
        return []
    words = [word for word in re.split(r"[\s,;]+", found[1]) if word]
    if not all(_NUMBER.fullmatch(word) for word in words):
        return []
    lengths = [round(float(word) * _MM[found[2]], 3) for word in words]
    if any(each > LONGEST_MM for each in lengths):
        raise LedgerRuleError(
            Phrase(
                "roots of {longest:g} mm are longer than {most:g} mm: check the unit",
                longest=max(lengths),
                most=LONGEST_MM,
            )
        )
    return lengths
