"""A file that holds room on the disk, let go when the disk is full."""

import errno
import os
from pathlib import Path
from typing import Final

from monitor.errors import StoreError

SIZE_BYTES: Final = 2 * 1024 * 1024
MARGIN: Final = 8
"""It is made again only when the disk has this many times its size free."""


class Reserve:
    """Room for the ledger when readings have filled the disk.

    ``make`` at the start and, now and then, later; ``release`` when a write failed for
    want of room.
    """

    def __init__(self, path: Path, size_bytes: int = SIZE_BYTES) -> None:
        self.path = path
        self.size_bytes = size_bytes

    @property
    def held(self) -> bool:
        """Whether the room is held now."""
        try:
            return self.path.stat().st_blocks * 512 >= self.size_bytes
        except FileNotFoundError:
            return False

    @property
    def needed_bytes(self) -> int:
        """How much has to be free for the room to be held."""
        return self.size_bytes * MARGIN

    @property
    def starved(self) -> bool:
        """Whether the room is not held, and the disk has hardly more than it left."""
        return not self.held and _free_bytes(self.path.parent) < 2 * self.size_bytes

    def make(self) -> bool:
        """Hold the room if the disk has plenty; return whether it is held.

        Raises
        ------
        StoreError
            If the folder cannot be written, for another reason than want of room.
        """
        if self.held:
            return True
        try:
            self.path.parent.mkdir(parents=True, exist_ok=True)
            if _free_bytes(self.path.parent) < self.needed_bytes:
                return False
            self._fill()
        except OSError as error:
            self.release()
            if error.errno in (errno.ENOSPC, errno.EDQUOT):
                return False
            message = f"{self.path} cannot be made: {error.strerror}; look at the folder"
            raise StoreError(message) from error
        return True

    def release(self) -> bool:
        """Let the room go; return whether there was any."""
        had = self.held
        self.path.unlink(missing_ok=True)
        return had

    def _fill(self) -> None:
        file = os.open(self.path, os.O_RDWR | os.O_CREAT | os.O_TRUNC | os.O_CLOEXEC, 0o600)
        try:
            os.posix_fallocate(file, 0, self.size_bytes)
            os.fsync(file)
        finally:
            os.close(file)


def _free_bytes(folder: Path) -> int:
    room = os.statvfs(folder)
    return room.f_bavail * room.f_frsize
