"""Published tables and texts that lie beside the repository, in ``../shared``.

They are not ours to copy. Where they are absent a test is skipped, and where CI is set it
fails: there nothing is skipped for want of a part.
"""

import os
from pathlib import Path
from typing import Final

import pytest

SHARED: Final = Path(__file__).resolve().parents[2] / "shared"


def shared(name: str) -> Path:
    """Return a shared file or folder; without it the test, or the module, is skipped."""
    path = SHARED / name
    if not path.exists():
        absent(f"../shared/{name} is not here")
    return path


def absent(what: str) -> None:
    """Skip a test, or a whole module, for want of a part; fail where CI is set."""
    if os.environ.get("CI"):
        pytest.fail(f"{what}, and nothing may be skipped here")
    pytest.skip(what, allow_module_level=True)
