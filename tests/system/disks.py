"""Small disks of their own, that can be filled."""

import os
import subprocess
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from tests.shared_files import absent


@contextmanager
def small_disk(folder: Path, megabytes: int) -> Iterator[None]:
    """Mount a small disk of its own at a folder; only the superuser may."""
    folder.mkdir(parents=True)
    size = f"size={megabytes}m"
    command = ["mount", "-t", "tmpfs", "-o", size, "tmpfs", str(folder)]
    if os.geteuid() != 0 or subprocess.run(command, check=False, capture_output=True).returncode:
        absent("a disk cannot be mounted here")
    try:
        yield
    finally:
        subprocess.run(["umount", "-l", str(folder)], check=True)


def fill(folder: Path) -> Path:
    """Fill a disk to the last byte, and return the file that does."""
    filler = folder / "filler"
    with filler.open("wb", buffering=0) as file:
        for size in (1 << 20, 1 << 12):
            try:
                while file.write(b"\0" * size) == size:
                    pass
            except OSError:
                continue
    return filler
