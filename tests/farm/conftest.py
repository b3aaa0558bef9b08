"""A folder with the starter farm for each test."""

from pathlib import Path

import pytest

from tests.farm.folders import Folder, new_folder


@pytest.fixture
def folder(tmp_path: Path) -> Folder:
    """Return a folder that holds the starter farm."""
    return new_folder(tmp_path)
