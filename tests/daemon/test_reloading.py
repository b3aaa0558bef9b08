"""A changed configuration is read once, when it has settled, and only if it can be used."""

from pathlib import Path

import pytest

from monitor.batches import fold
from monitor.daemon.reloading import Reloading, check_usable, take
from monitor.errors import BrokerError, FarmError
from monitor.model import EntryKind, LedgerEntry
from tests.farm.folders import Folder, new_folder

BOOK = fold(())


@pytest.fixture
def folder(tmp_path: Path) -> Folder:
    """Return the starter farm in a folder."""
    return new_folder(tmp_path)


def test_a_change_is_read_once_it_stands_still(folder: Folder) -> None:
    """A file that is still being written is left alone; a settled one is read once."""
    files = Reloading(folder.path)
    assert [files.changed() for _ in range(3)] == [False, True, False]  # the first state
    folder.add("farm.toml", "# one")
    assert not files.changed()
    folder.add("farm.toml", "# another")
    assert [files.changed() for _ in range(3)] == [False, True, False]


def test_what_a_page_wrote_is_read_at_once(folder: Folder) -> None:
    """A change that this program has written whole need not stand still first, and is read once."""
    files = Reloading(folder.path)
    assert [files.changed() for _ in range(2)] == [False, True]
    folder.add("farm.toml", "# one")
    assert [files.changed(written=True) for _ in range(2)] == [True, False]


def test_a_change_between_loading_and_the_first_look_is_read(folder: Folder) -> None:
    """What was written after the farm was loaded is not missed."""
    folder.load()
    folder.change("farm.toml", 'name = "Walk-in cooler"', 'name = "Big cooler"')
    files = Reloading(folder.path)
    assert [files.changed() for _ in range(2)] == [False, True]
    assert take(folder.path, BOOK).places["walk-in-cooler"].name == "Big cooler"


def test_a_file_that_goes_and_comes_back_is_noticed(folder: Folder) -> None:
    """Editors write anew under the same name; a missing file is a mistake, not a crash."""
    files = Reloading(folder.path)
    assert [files.changed() for _ in range(2)] == [False, True]
    text = (folder.path / "crops.toml").read_bytes()
    (folder.path / "crops.toml").unlink()
    assert [files.changed() for _ in range(2)] == [False, True]
    with pytest.raises(FarmError, match=r"crops\.toml"):
        take(folder.path, BOOK)
    (folder.path / "crops.toml").write_bytes(text)
    assert [files.changed() for _ in range(2)] == [False, True]
    assert take(folder.path, BOOK).crops


@pytest.mark.parametrize("damage", [b"\xff\xfe", b"[farm", b"\x00" * 100, b""])
def test_a_damaged_file_is_refused(folder: Folder, damage: bytes) -> None:
    """Whatever stands in a file, it is a mistake that is named."""
    (folder.path / "farm.toml").write_bytes(damage)
    with pytest.raises(FarmError, match=r"farm\.toml"):
        take(folder.path, BOOK)


def test_an_unchanged_farm_is_the_same(folder: Folder) -> None:
    """Touching a file changes nothing: both loads are equal."""
    first = take(folder.path, BOOK)
    (folder.path / "farm.toml").touch()
    assert take(folder.path, BOOK) == first


def test_a_place_with_a_batch_in_it_stays(folder: Folder) -> None:
    """A farm without that place is refused, and the batch is named."""
    data = {
        "crop": "ranunculus", "cultivar": "Dawn Apricot", "count": 320, "unit": "stems",
        "place": "loft", "stage": "cut_stems",
    }  # fmt: skip
    book = fold([LedgerEntry(1, 1, 1, EntryKind.ADDED, 0, 0, "wren", data)])
    with pytest.raises(FarmError, match="batch 1 is there"):
        check_usable(folder.load(), book)


def test_a_certificate_that_is_missing_is_refused(folder: Folder) -> None:
    """The file is named before anything is joined by it."""
    folder.change(
        "farm.toml", "embedded = false", 'embedded = false\ntls = { ca_file = "/nowhere/ca.pem" }'
    )
    with pytest.raises((BrokerError, FarmError), match=r"/nowhere/ca\.pem"):
        take(folder.path, BOOK)
