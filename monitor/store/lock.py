"""One daemon a farm: a lock that ends with the process that holds it."""

import fcntl
import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from monitor.errors import BusyError, StoreError


@contextmanager
def lock(path: Path) -> Iterator[None]:
    """Hold a lock file while the block runs.

    Raises
    ------
    BusyError
        If another process holds it.
    StoreError
        If the file cannot be made.
    """
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        file = os.open(path, os.O_RDWR | os.O_CREAT | os.O_CLOEXEC, 0o600)
    except OSError as error:
        message = f"{path} cannot be made: {error.strerror}; look at the folder's permissions"
        raise StoreError(message) from error
    try:
        _take(file, path)
        yield
    finally:
        os.close(file)


@contextmanager
def lock_farm(data: Path) -> Iterator[None]:
    """Hold a farm's data while the block runs: by a file that names the holder, and the folder.

    Whoever tidies up may remove the file; the folder is held all the same.

    Raises
    ------
    BusyError
        If another process holds it.
    StoreError
        If the file cannot be made.
    """
    with lock(data / "cormwatch.lock"):
        folder = os.open(data, os.O_RDONLY | os.O_DIRECTORY | os.O_CLOEXEC)
        try:
            _take_folder(folder, data)
            yield
        finally:
            os.close(folder)


def _take_folder(folder: int, data: Path) -> None:
    try:
        fcntl.flock(folder, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except BlockingIOError:
        raise BusyError(
            f"another cormwatch run is watching this farm ({data}), though its lock file was "
            "removed; stop it first, or let it go on"
        ) from None
    except OSError:  # a file system that locks no folders: the file has to do
        return


def _take(file: int, path: Path) -> None:
    try:
        fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except BlockingIOError:
        holder = os.pread(file, 32, 0).decode("ascii", "replace").strip()
        raise BusyError(
            f"another cormwatch run is watching this farm (process {holder or 'unknown'}, "
            f"{path}); stop it first, or let it go on"
        ) from None
    os.truncate(file, 0)
    os.pwrite(file, f"{os.getpid()}\n".encode("ascii"), 0)
