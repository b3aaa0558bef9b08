"""One check of a formula against something published or a reference library.

Checks are shared by the tests and by the printed table: each knows how wrong we are at
worst, and how wrong we may be.
"""

import csv
import gzip
import importlib.util
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import numpy as np

from monitor.science.checking import Floats
from tests import shared_files

SHARED: Final = shared_files.SHARED


@dataclass(frozen=True)
class Check:
    """A formula, where its figures come from, and the worst error against them.

    ``needs`` names a shared file without which the check cannot run.
    """

    formula: str
    source: str
    unit: str
    allowed: float
    worst: Callable[[], float]
    needs: str | None = None

    @property
    def runnable(self) -> bool:
        """Return whether the shared file it needs is here."""
        return self.needs is None or (SHARED / self.needs).exists()


def apart(ours: object, theirs: object) -> float:
    """Return the greatest absolute difference; a missing figure of ours counts as infinite."""
    difference = np.abs(np.asarray(ours, np.float64) - np.asarray(theirs, np.float64))
    return float(np.where(np.isnan(difference), np.inf, difference).max())


def apart_pct(ours: object, theirs: object) -> float:
    """Return the greatest relative difference. [%]"""
    wanted = np.asarray(theirs, np.float64)
    return apart(100.0 * np.asarray(ours, np.float64) / wanted, np.full(wanted.shape, 100.0))


def rows(name: str) -> list[dict[str, str]]:
    """Return the rows of a shared table, plain or packed."""
    path = SHARED / name
    text = gzip.decompress(path.read_bytes()).decode() if name.endswith(".gz") else path.read_text()
    return list(csv.DictReader(text.splitlines()))


def packaged(package: str, file: str, skip: int = 0) -> list[dict[str, str]]:
    """Return the rows of a table that an installed package carries in its data folder."""
    spec = importlib.util.find_spec(package)
    if spec is None or spec.origin is None:
        raise FileNotFoundError(f"{package} is not installed: install the test extra")
    path = Path(spec.origin).parent / "data" / file
    return list(csv.DictReader(path.read_text(encoding="utf-8").splitlines()[skip:]))


def column(table: Sequence[dict[str, str]], name: str) -> Floats:
    """Return a column as figures; what is empty or a remark is NaN."""

    def figure(text: str) -> float:
        try:
            return float(text)
        except ValueError:
            return float("nan")

    return np.array([figure(row[name]) for row in table], dtype=np.float64)
