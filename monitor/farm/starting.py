"""A starter farm, written whole or not at all."""

import json
import os
import re
import shutil
import tempfile
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from monitor.errors import FarmError
from monitor.farm.loading import load
from monitor.farm.sheets import FARM, FILES, PEOPLE
from monitor.resources import config_dir
from monitor.units import TemperatureUnit, to_celsius

_SECRET_FILE: Final = "secrets/robin-phone"  # noqa: S105 - where it is kept, not what it is
_LIMIT = re.compile(r'(?P<key>\b(?:offset|deadband)\s*=\s*)?"(?P<value>-?\d+(?:\.\d+)?) F"')


@dataclass(frozen=True, slots=True)
class Start:
    """What is asked before a farm begins; ``address`` is an apprise address, a secret.

    ``second`` is where a second watcher listens, ``secret`` what heartbeats must bring it.
    """

    name: str | None = None
    units: TemperatureUnit = TemperatureUnit.FAHRENHEIT
    host: str = "127.0.0.1"
    port: int = 1883
    embedded: bool = False
    address: str | None = None
    second: str | None = None
    secret: str = ""

    def __repr__(self) -> str:
        return f"Start(name={self.name!r}, units={self.units.value!r}, host={self.host!r})"


def starter(start: Start) -> dict[str, str]:
    """Return the texts of a starter farm by file name."""
    texts = {file: (config_dir() / file).read_text(encoding="utf-8") for file in FILES}
    if start.units is TemperatureUnit.CELSIUS:
        texts = {file: in_celsius(text) for file, text in texts.items()}
    named = {"units": start.units.value, "host": start.host, "port": start.port}
    if start.name:
        named["name"] = start.name
    if start.embedded:
        named["embedded"] = True
    for key, value in named.items():
        texts[FARM] = _set(texts[FARM], key, value)
    if start.address:
        texts[PEOPLE] = _set(texts[PEOPLE], "addresses", [f"file:{_SECRET_FILE}"])
        texts[_SECRET_FILE] = f"{start.address}\n"
    return texts


def second_starter(start: Start) -> dict[str, str]:
    """Return the texts of a second watcher's folder by file name."""
    farm = (config_dir() / "second.toml").read_text(encoding="utf-8")
    if start.name:
        farm = _set(farm, "name", start.name)
    return {
        FARM: _set(farm, "listen", start.second),
        PEOPLE: (config_dir() / PEOPLE).read_text(encoding="utf-8"),
        "secrets/heartbeat": f"{start.secret}\n",
    }


def _set(text: str, key: str, value: object) -> str:
    """Return a TOML text with the first line of a key set, its note kept."""
    written = json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007f")
    line = re.compile(rf'^{key} = (?:"[^"\n]*"|\[\]|[\w.]+)', re.MULTILINE)
    changed, times = line.subn(lambda _: f"{key} = {written}", text, count=1)
    if not times:
        raise FarmError(f"the starter farm has no line {key}; install cormwatch again")
    return changed


def in_celsius(text: str) -> str:
    """Return a file with its limits written in °C, to a tenth, instead of °F."""

    def convert(found: re.Match[str]) -> str:
        value = float(found["value"])
        if found["key"]:
            return f'{found["key"]}"{value / 1.8:.1f} C"'
        return f'"{to_celsius(value, TemperatureUnit.FAHRENHEIT):.1f} C"'

    return _LIMIT.sub(convert, text)


def write_starter(directory: Path, start: Start, environ: Mapping[str, str]) -> None:
    """Write a starter farm into a folder that has none yet; its files are for its owner only.

    Raises
    ------
    FarmError
        If the folder has a farm already, an answer does not fit, or the disk refuses. Nothing
        is then left behind.
    """
    if start.name is not None and not start.name.isprintable():
        raise FarmError("the farm's name holds a control character: give another")
    texts = starter(start) if start.second is None else second_starter(start)
    try:
        taken = [file for file in texts if (directory / file).exists()]
        made = [each for each in (directory, *directory.parents) if not each.exists()]
    except OSError as failure:
        raise FarmError(
            f"{directory} cannot be looked into ({failure.strerror}): name a folder of your own"
        ) from failure
    if taken:
        raise FarmError(
            f"{directory} has {' and '.join(taken)} already: name another folder, or move "
            "what is there away"
        )
    try:
        directory.mkdir(parents=True, exist_ok=True)
        _write_all(directory, texts, environ)
    except (OSError, FarmError) as failure:
        for folder in made:
            shutil.rmtree(folder, ignore_errors=True)
        if isinstance(failure, OSError):
            raise FarmError(f"{directory} cannot be written ({failure.strerror})") from failure
        raise


def _write_all(directory: Path, texts: Mapping[str, str], environ: Mapping[str, str]) -> None:
    """Write aside, look whether it loads, and only then move it in: farm.toml last."""
    with tempfile.TemporaryDirectory(prefix=".starting-", dir=directory) as aside:
        for file, text in texts.items():
            _write(Path(aside) / file, text)
        load(Path(aside), environ)
        placed: list[Path] = []
        try:
            for file in sorted(texts, key=lambda each: each == FARM):
                target = directory / file
                target.parent.mkdir(mode=0o700, exist_ok=True)
                (Path(aside) / file).rename(target)
                placed.append(target)
        except OSError:
            for target in placed:
                target.unlink(missing_ok=True)
            raise


def _write(path: Path, text: str) -> None:
    path.parent.mkdir(mode=0o700, exist_ok=True)
    handle = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    with open(handle, "w", encoding="utf-8") as file:  # noqa: PTH123 - a handle, not a path
        file.write(text)
        file.flush()
        os.fsync(file.fileno())
