"""Writing a change: under a lock, if the file is still the same, and the farm loads with it."""

import contextlib
import fcntl
import os
import tempfile
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from monitor.errors import BusyError, FarmError
from monitor.farm.declared import Farm
from monitor.farm.editing.documents import Table
from monitor.farm.editing.forgetting import orphans
from monitor.farm.loading import load

LOCK: Final = ".changing"
_CHANGED: Final = (
    "the farm's files were changed by someone else meanwhile, so nothing was written: look "
    "at the page again, and press once more"
)


@dataclass(frozen=True, slots=True)
class Change:
    """What becomes of one of the farm's files."""

    file: str
    apply: Callable[[Table], None]


def save(
    directory: Path,
    changes: Sequence[Change],
    *,
    digest: str | None = None,
    secrets: Mapping[str, str] | None = None,
    usable: Callable[[Farm], None] | None = None,
    environ: Mapping[str, str] = os.environ,
) -> Farm:
    """Write changes into a farm's files, all or none, and return the farm as it is then.

    A secret's file under ``secrets/`` that nothing names any more is taken away.

    Parameters
    ----------
    directory : Path
        The farm's folder.
    changes : sequence of Change
        Several of one file are made one after the other.
    digest : str, optional
        The farm's digest as it was looked at; with another by now nothing is written.
    secrets : mapping, optional
        Texts of new files under ``secrets/`` by name, written for the owner alone.
    usable : callable, optional
        Raises where the farm, sound in itself, cannot be used here.
    environ : mapping
        The environment that ``env:NAME`` secrets are taken from.

    Raises
    ------
    FarmError
        If the files changed meanwhile, the change does not fit, or the disk refuses.
    BusyError
        If another change is being written.
    """
    with _alone(directory):
        before = load(directory, environ, secrets_needed=False)
        if digest is not None and before.digest != digest:
            raise FarmError(_CHANGED)
        texts = _changed(directory, changes)
        try:
            farm = _written(directory, texts, secrets or {}, usable, environ)
        except OSError as failure:
            raise FarmError(
                f"{directory} cannot be written ({failure.strerror}): nothing was changed"
            ) from failure
        for path in orphans(directory, before.texts, farm.texts):
            with contextlib.suppress(OSError):  # the change is made all the same
                path.unlink(missing_ok=True)
        return farm


def _changed(directory: Path, changes: Sequence[Change]) -> dict[str, str]:
    """Return the new texts of the files that change."""
    import tomlkit  # noqa: PLC0415 - only where a file is changed

    documents = {
        file: tomlkit.parse((directory / file).read_bytes().decode("utf-8"))
        for file in dict.fromkeys(each.file for each in changes)
    }
    for each in changes:
        each.apply(documents[each.file])
    return {file: tomlkit.dumps(document) for file, document in documents.items()}


def _written(
    directory: Path,
    texts: Mapping[str, str],
    secrets: Mapping[str, str],
    usable: Callable[[Farm], None] | None,
    environ: Mapping[str, str],
) -> Farm:
    """Write the secrets, see whether the farm would load, then move the files in."""
    made: list[Path] = []
    try:
        for file, text in secrets.items():
            _write(directory / file, text, 0o600, like=directory)
            made.append(directory / file)
        farm = load(directory, environ, secrets_needed=False, texts=texts)
        if usable is not None:
            usable(farm)
        _placed(directory, texts)
    except BaseException:
        for path in made:
            path.unlink(missing_ok=True)
        raise
    return farm


def _placed(directory: Path, texts: Mapping[str, str]) -> None:
    with tempfile.TemporaryDirectory(prefix=LOCK, dir=directory) as aside:
        for file, text in texts.items():
            mode = (directory / file).stat().st_mode & 0o777
            _write(Path(aside) / file, text, mode, like=directory / file)
        for file in texts:
            (Path(aside) / file).replace(directory / file)
    _settle(directory)


def _write(path: Path, text: str, mode: int, like: Path) -> None:
    """Write a new file that belongs to whom another belongs to, where we may say so."""
    path.parent.mkdir(mode=0o700, exist_ok=True)
    handle = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, mode)
    if os.geteuid() == 0:
        owner = like.stat()
        os.fchown(handle, owner.st_uid, owner.st_gid)
    with open(handle, "w", encoding="utf-8", newline="") as file:  # noqa: PTH123 - a handle
        file.write(text)
        file.flush()
        os.fsync(file.fileno())


def _settle(directory: Path) -> None:
    """Make the moves outlast a power cut."""
    handle = os.open(directory, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


@contextmanager
def _alone(directory: Path) -> Iterator[None]:
    try:
        handle = os.open(directory / LOCK, os.O_RDWR | os.O_CREAT | os.O_CLOEXEC, 0o600)
    except OSError as failure:
        raise FarmError(
            f"{directory} cannot be written ({failure.strerror}): nothing was changed"
        ) from failure
    try:
        fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
        yield
    except BlockingIOError:
        raise BusyError("someone else is changing the farm just now: press once more") from None
    finally:
        os.close(handle)
