"""The farm's copies by the day: made while it is watched, read back, and told of where they fail.

What came of the last one is a row of the ledger, so that the page, the morning message and
a restart know it.
"""

import contextlib
import logging
import os
import shutil
import threading
import time as real_time
import tomllib
from collections.abc import Callable, Sequence
from dataclasses import asdict, dataclass, replace
from datetime import date, timedelta
from pathlib import Path
from typing import Any, Final

from monitor.alarms import Wording
from monitor.clock import Clock
from monitor.errors import CormwatchError, StoreError
from monitor.farm import FILES, Backup, Farm, slug
from monitor.farm.masking import written_places
from monitor.notices.hours import instant_ms, local_day
from monitor.phrase import Phrase, packed, together, unpacked
from monitor.store import Copied, Ledger, make_copy
from monitor.store.copying import COPYING

KEY: Final = "backup"
LOOK_S: Final = 30.0
AGAIN_MS: Final = 3_600_000
"""So long after one that failed the next is tried. [ms]"""
OLD_MS: Final = 49 * 3_600_000
"""A copy that is older is told of, whatever the reason. [ms]"""
_LEFT_S: Final = 86_400
"""What an interrupted copy left behind is taken away when it is so old. [s]"""

log = logging.getLogger("cormwatch")


@dataclass(frozen=True, slots=True)
class BackupStanding:
    """What came of the copies: the last good one, and since when and why they fail. [ms]

    ``secrets`` is where secrets stand written out in the last good one.
    """

    made_ms: int | None = None
    path: str = ""
    size: int = 0
    tried_ms: int | None = None
    failing_since_ms: int | None = None
    error: str = ""
    secrets: Sequence[str] = ()

    def word(self) -> str:
        """Return it in a few words."""
        if self.failing_since_ms is not None:
            return f"fails: {self.error}"
        return f"made: {self.path}" if self.path else "none yet"


def standing_of(kept: Any) -> BackupStanding:  # noqa: ANN401 - JSON of the ledger
    """Return what the ledger keeps under ``KEY``."""
    if not isinstance(kept, dict):
        return BackupStanding()
    return BackupStanding(**kept | {"error": unpacked(kept.get("error", ""))})


def troubles(farm: Farm, standing: BackupStanding, words: Wording, now_ms: int) -> list[str]:
    """Return what a person should do something about."""
    if farm.backup is None:
        return []
    made_ms = standing.made_ms
    last = Phrase("There is none yet.")
    if made_ms is not None:
        last = Phrase("The last good one is of {time}.", time=words.time(made_ms, now_ms))
    if standing.failing_since_ms is not None:
        fails = Phrase("The daily copy of the farm cannot be made: {why}.", why=standing.error)
        return [together([fails, last])]
    if made_ms is not None and now_ms - made_ms > OLD_MS:
        return [together([Phrase("The daily copy of the farm is overdue."), last])]
    return []


def told(standing: BackupStanding, words: Wording, now_ms: int) -> list[str]:
    """Return what there is to know about the copies where nothing is wrong with them."""
    if standing.made_ms is None:
        return []
    lies = Phrase(
        "The newest copy is of {time}: {file}",
        time=words.time(standing.made_ms, now_ms), file=standing.path,
    )  # fmt: skip
    if not standing.secrets:
        return [lies, Phrase("No secret stands written out in it.")]
    held = Phrase(
        "SECRETS stand written out in it, so keep it as private as them: {where}.",
        where=", ".join(standing.secrets),
    )
    return [lies, held]


def written_out(farm: Farm) -> list[str]:
    """Return where secrets stand written out in the files that a copy holds.

    A file that is no TOML while somebody edits it is named as a whole.
    """
    found = list[str]()
    for file in FILES:
        try:
            raw = tomllib.loads((farm.directory / file).read_text("utf-8"))
        except FileNotFoundError:
            continue
        except (OSError, ValueError):
            found.append(file)
        else:
            found += [f"{file} {place}" for place in written_places(raw)]
    return found


def copy_farm(farm: Farm, to: Path, now_ms: int) -> Copied:
    """Copy readings, ledger and files into one archive, and read it back.

    Raises
    ------
    StoreError
        If it cannot be made, or does not read back as it was written.
    """
    try:
        texts = {each: (farm.directory / each).read_bytes() for each in FILES}
    except OSError as failure:
        raise StoreError(
            Phrase("{file} cannot be read: {why}", file=failure.filename, why=failure.strerror)
        ) from failure
    return make_copy(farm.data_dir, texts, to, now_ms)


def due_ms(backup: Backup, farm: Farm, now_ms: int) -> int:
    """Return when the newest copy that there should be was to be made. [ms]"""
    today = local_day(now_ms, farm.zone)
    at_ms = instant_ms(today, backup.at, farm.zone)
    if at_ms <= now_ms:
        return at_ms
    return instant_ms(today - timedelta(days=1), backup.at, farm.zone)


@dataclass
class Backups:
    """Makes the copies that are due; used from one thread, ``standing`` from any."""

    farm: Callable[[], Farm]
    ledger: Ledger
    clock: Clock
    _configured: Backup | None = None

    @property
    def standing(self) -> BackupStanding:
        """Return what came of the last one."""
        return standing_of(self.ledger.get(KEY))

    def turn(self) -> bool:
        """Make the copy that is due; return whether one was made.

        Raises
        ------
        StoreError
            If the ledger cannot be read or written.
        """
        farm, now_ms = self.farm(), self.clock.now_ms()
        backup, changed = farm.backup, farm.backup != self._configured
        self._configured = backup
        if backup is None:
            return False
        kept = self.standing
        if kept.made_ms is not None and due_ms(backup, farm, now_ms) <= kept.made_ms <= now_ms:
            return False
        waits = kept.failing_since_ms is not None and kept.tried_ms is not None
        if waits and not changed and 0 <= now_ms - (kept.tried_ms or 0) < AGAIN_MS:
            return False
        return self._make(farm, backup, now_ms, kept)

    def _make(self, farm: Farm, backup: Backup, now_ms: int, kept: BackupStanding) -> bool:
        try:
            made = self._made(farm, backup, now_ms)
        except CormwatchError as failure:
            if kept.error != str(failure):
                log.error("the daily copy cannot be made: %s", failure)  # noqa: TRY400 - expected
            since_ms = kept.failing_since_ms or now_ms
            failing = replace(kept, tried_ms=now_ms, failing_since_ms=since_ms)
            self.ledger.put(KEY, asdict(failing) | {"error": packed(str(failure))})
            return False
        secrets = written_out(farm)
        if secrets and secrets != list(kept.secrets):  # told once, not each night
            log.warning("secrets stand written out in the daily copies: %s", ", ".join(secrets))
        done = BackupStanding(now_ms, str(made.path), made.size, now_ms, secrets=secrets)
        self.ledger.put(KEY, asdict(done))
        return True

    def _made(self, farm: Farm, backup: Backup, now_ms: int) -> Copied:
        folder = backup.folder
        if farm.directory in folder.parents:
            with contextlib.suppress(OSError):  # told by what follows
                folder.mkdir(mode=0o700, parents=True, exist_ok=True)
        if not folder.is_dir():
            raise StoreError(
                Phrase(
                    "{folder} is not there: is its disk in? [backup] folder names it",
                    folder=str(folder),
                )
            )
        clear(folder)
        made = copy_farm(farm, folder / name_of(farm, local_day(now_ms, farm.zone)), now_ms)
        drop_old(farm, made.path, backup.keep)
        return made


def name_of(farm: Farm, day: date) -> str:
    """Return the name of a day's copy."""
    return f"cormwatch-{slug(farm.name)}-{day.isoformat()}.zip"


def drop_old(farm: Farm, made: Path, keep: int) -> None:
    """Take away the oldest of this farm's daily copies; others that lie there stay.

    The one just made stays though others bear a later day: a clock may have been wrong.
    """
    day = "[0-9]" * 4 + "-[0-9][0-9]-[0-9][0-9]"
    found = set(made.parent.glob(f"cormwatch-{slug(farm.name)}-{day}.zip")) - {made}
    for each in sorted(found, reverse=True)[keep - 1 :]:
        with contextlib.suppress(OSError):
            each.unlink()


def clear(folder: Path) -> None:
    """Take away what a copy left that was interrupted, as by a power cut, a day ago or more."""
    for each in (*folder.glob(f"{COPYING}*"), *folder.glob(".cormwatch-*.partial")):
        with contextlib.suppress(OSError):
            if real_time.time() - each.stat().st_mtime < _LEFT_S:
                continue
            shutil.rmtree(each) if each.is_dir() else each.unlink()


class UpkeepThread(threading.Thread):
    """Turns now and then until it is told to stop; no failure ends it.

    A copy in the making is left as it is at the end: it counts only once it is whole.
    """

    def __init__(self, turns: Sequence[Callable[[], object]]) -> None:
        super().__init__(name="upkeep", daemon=True)
        self._turns = turns
        self._stopping = threading.Event()

    def run(self) -> None:
        """Turn."""
        with contextlib.suppress(OSError, AttributeError):
            os.setpriority(os.PRIO_PROCESS, threading.get_native_id(), 10)
        while not self._stopping.wait(LOOK_S):
            for turn in self._turns:
                self._guarded(turn)

    def _guarded(self, turn: Callable[[], object]) -> None:
        try:
            turn()
        except CormwatchError as failure:
            log.warning("upkeep waits: %s", failure)
        except Exception:  # it must outlive its defects; they are logged
            log.exception("upkeep has a defect; going on")

    def stop(self, within_s: float = 0.5) -> None:
        """Ask it to end, and do not wait for long. [s]"""
        self._stopping.set()
        self.join(within_s)
