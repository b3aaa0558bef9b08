"""Small files for their owner only, written whole or not at all."""

import os
import tempfile
from pathlib import Path

from monitor.errors import FarmError


def stamp(path: Path) -> tuple[int, ...] | None:
    """Return what changes when a file is written anew; None where there is none."""
    try:
        found = path.stat()
    except OSError:
        return None
    return found.st_ino, found.st_mtime_ns, found.st_size


def write_private(path: Path, text: str, *, lasting: bool = True) -> None:
    """Write a file that its owner alone can read (0600), in place of what was there.

    Written by root, it belongs to whoever its folder does: the service, as a rule. A folder
    that is made for it belongs to the owner of the one above.

    Raises
    ------
    FarmError
        If the disk refuses; what was there before then stays.
    """
    made = not path.parent.exists()
    try:
        path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
        handle, aside = tempfile.mkstemp(prefix=".", suffix=".new", dir=path.parent)  # 0600
        try:
            with os.fdopen(handle, "w", encoding="utf-8") as file:
                file.write(text)
                file.flush()
                if lasting:
                    os.fsync(file.fileno())
            _hand_over(Path(aside), path.parent, made=made)
            Path(aside).replace(path)
        except BaseException:
            Path(aside).unlink(missing_ok=True)
            raise
    except OSError as failure:
        raise FarmError(f"{path} cannot be written ({failure.strerror}): look at its folder") from (
            failure
        )


def _hand_over(file: Path, folder: Path, *, made: bool) -> None:
    """Give what root has written to the owner of the folder it stands in."""
    if os.geteuid() != 0:
        return
    owner = (folder.parent if made else folder).stat()
    for each in (folder, file) if made else (file,):
        os.chown(each, owner.st_uid, owner.st_gid)
