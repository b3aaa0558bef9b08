"""What the program rests on, by what pip knows here: it fits, is bounded, whole, and may be used.

No service is asked whether a version has known holes: that is for whoever releases, with a list
of that day.
"""

import base64
import hashlib
import re
import subprocess
import sys
import tomllib
from collections.abc import Iterator
from importlib.metadata import Distribution, distribution
from pathlib import Path
from typing import Final

import pytest
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

ROOT: Final = Path(__file__).resolve().parent.parent
PROJECT: Final = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
NEVER_TOO_NEW: Final = {
    "cryptography": "its fixes come in new major versions, and we use what it keeps stable",
    "tzdata": "it is data, named by the year: the newest is the right one",
}
FREE: Final = re.compile(
    r"\b(MIT|BSD|Apache|ISC|PSF|Python Software Foundation|HPND|MPL[- ]2|Mozilla Public|0BSD|Zlib"
    r"|Unlicense|CC0)",
    re.IGNORECASE,
)
"""Licences that let anybody use and pass on a program (MPL 2.0: its own files stay so); the names
are SPDX's or those of the package index (from memory)."""


def _own() -> list[Requirement]:
    return [Requirement(each) for each in PROJECT["dependencies"]]


def _closure() -> dict[str, Distribution]:
    """Return all that the program needs to run, and what that needs."""
    found: dict[str, Distribution] = {}
    waiting = _own()
    while waiting:
        wanted = waiting.pop()
        name = canonicalize_name(wanted.name)
        if name in found:
            continue
        found[name] = distribution(wanted.name)
        for each in found[name].requires or ():
            further = Requirement(each)
            extras = wanted.extras or {""}
            if further.marker is None or any(
                further.marker.evaluate({"extra": extra}) for extra in extras
            ):
                waiting.append(further)
    return found


def test_what_is_installed_fits_together() -> None:
    """Pip finds no version missing, and none that another refuses."""
    told = subprocess.run(
        [sys.executable, "-m", "pip", "check", "--disable-pip-version-check"],
        capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert told.returncode == 0, told.stdout


@pytest.mark.parametrize("wanted", _own(), ids=str)
def test_each_range_has_two_ends(wanted: Requirement) -> None:
    """A release that breaks its users does not come by itself; each exception has a reason."""
    signs = {each.operator for each in wanted.specifier}
    if wanted.name in NEVER_TOO_NEW:
        assert "<" not in signs
        return
    assert ">=" in signs
    assert "<" in signs
    assert distribution(wanted.name).version in wanted.specifier


def _licence(of: Distribution) -> str:
    told = of.metadata
    names = ("License-Expression", "License", "Classifier")
    found = [each for name in names for each in told.get_all(name) or ()]
    return " ".join(each[:200] for each in found if not each.startswith(("Topic", "Programming")))


def test_every_licence_lets_a_farm_use_it() -> None:
    """All that runs is free to use and to pass on."""
    unknown = {
        name: _licence(of) for name, of in _closure().items() if not FREE.search(_licence(of))
    }
    assert unknown == {}


def _changed(of: Distribution) -> Iterator[str]:
    for file in of.files or ():
        if file.hash is None or file.hash.mode != "sha256":
            continue
        digest = hashlib.sha256(Path(str(file.locate())).read_bytes()).digest()
        if base64.urlsafe_b64encode(digest).rstrip(b"=").decode() != file.hash.value:
            yield str(file)


def test_what_is_installed_is_what_was_packed() -> None:
    """Each file that runs has the SHA-256 that its package's record names."""
    closure = _closure()
    assert len(closure) > len(_own())
    changed = {name: list(_changed(of)) for name, of in closure.items()}
    assert {name: files for name, files in changed.items() if files} == {}
