"""Notices a changed configuration, and takes it or refuses it."""

from dataclasses import dataclass, field
from pathlib import Path
from typing import Final

from monitor.batches import Book, open_batches
from monitor.daemon.listening import check_joining
from monitor.errors import FarmError
from monitor.farm import Farm, load, missing_places

FILES: Final = ("farm.toml", "crops.toml", "people.toml")

Stamp = tuple[tuple[int, int] | None, ...]


def stamp(directory: Path) -> Stamp:
    """Return what changes when one of the farm's files is written."""
    found: list[tuple[int, int] | None] = []
    for name in FILES:
        try:
            stat = (directory / name).stat()
        except OSError:
            found.append(None)
        else:
            found.append((stat.st_mtime_ns, stat.st_size))
    return tuple(found)


@dataclass
class Reloading:
    """Looks at the files; a change is read only once it has stood still between two looks.

    The first state that stands still counts as a change too: the files may have changed
    since the farm was loaded.
    """

    directory: Path
    _read: Stamp = field(default=(), repr=False)
    _seen: Stamp = field(default=(), repr=False)

    def changed(self, *, written: bool = False) -> bool:
        """Return whether there is a settled change to read.

        What was ``written`` by this program is whole: it need not stand still first.
        """
        now = stamp(self.directory)
        settled = written or now == self._seen
        self._seen = now
        if now == self._read or not settled:
            return False
        self._read = now
        return True


def take(directory: Path, book: Book) -> Farm:
    """Return the farm as its files say now.

    Raises
    ------
    FarmError
        If they cannot be used, or a place is gone in which a batch stands.
    BrokerError
        If a certificate or key file for the broker cannot be used.
    """
    farm = load(directory)
    check_usable(farm, book)
    return farm


def check_usable(farm: Farm, book: Book) -> None:
    """Make sure that a farm can be watched with the batches there are.

    Raises
    ------
    FarmError
        If a place is gone in which a batch stands.
    BrokerError
        If a certificate or key file for the broker cannot be used.
    """
    gone = missing_places(farm, open_batches(book))
    if gone:
        raise FarmError("; ".join(str(each) for each in gone))
    check_joining(farm)
