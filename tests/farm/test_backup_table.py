"""The table that says where the daily copies go."""

import tomllib
from datetime import time

import pytest

from monitor.errors import FarmError
from monitor.farm.forms import BackupForm
from tests.farm.folders import Folder


def _with(folder: Folder, table: str) -> Folder:
    return folder.change("farm.toml", "# ---- Places", f"[backup]\n{table}\n\n# ---- Places")


def test_a_farm_without_the_table_makes_no_copies(folder: Folder) -> None:
    """Where they go is the grower's to say."""
    assert folder.load().backup is None


def test_a_folder_alone_is_enough(folder: Folder) -> None:
    """Half past two in the night, two weeks kept; a relative folder lies in the farm's."""
    farm = _with(folder, 'folder = "copies"').load()
    assert farm.backup is not None
    assert (farm.backup.at, farm.backup.keep) == (time(2, 30), 14)
    assert farm.backup.folder == farm.directory / "copies"


@pytest.mark.parametrize(
    ("table", "told"),
    [
        ("keep = 3", "folder"), ('folder = "x"\nkeep = 0', "keep"),
        ('folder = "x"\nat = "half past two"', "at"), ('folder = "x"\nweekly = true', "weekly"),
    ],
)  # fmt: skip
def test_a_mistake_is_named(folder: Folder, table: str, told: str) -> None:
    """File and key, as everywhere."""
    with pytest.raises(FarmError, match=rf"backup.*{told}"):
        _with(folder, table).load()


def test_the_starters_commented_table_is_sound(folder: Folder) -> None:
    """What a grower uncomments is taken as it stands."""
    text = (folder.path / "farm.toml").read_text(encoding="utf-8")
    lines = text[text.index("# [backup]") :].split("\n\n")[0].splitlines()
    table = tomllib.loads("\n".join(each.removeprefix("# ") for each in lines))
    assert BackupForm(**table["backup"]).keep == 14


def test_thinning_needs_a_place_where_all_of_it_is_safe(folder: Folder) -> None:
    """Months of history are asked for with copies or a mirror, or not at all."""
    folder.change("farm.toml", "# ---- Places", "[history]\nthin_after_months = 24\n\n# ---- Pl")
    with pytest.raises(FarmError, match=r"history\.thin_after_months.*add \[backup\] or"):
        folder.load()
    folder.change("farm.toml", "# ---- Pl", '[backup]\nfolder = "copies"\n\n# ---- Pl')
    assert folder.load().thin_after_months == 24
