"""Secrets that a change has made nobody's: their files go with the address they held."""

import tomllib
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any, Final

FOLDER: Final = "secrets"


def orphans(directory: Path, before: Mapping[str, str], after: Mapping[str, str]) -> list[Path]:
    """Return the files under ``secrets`` that a farm's texts named before, and none names now.

    A file elsewhere is not ours to take away, nor one that any other file of the folder names.
    """
    gone = _named(directory, before) - _named(directory, after)
    others = {
        path.name: path.read_text(encoding="utf-8", errors="replace")
        for path in directory.glob("*.toml")
        if path.name not in after
    }
    kept = _named(directory, others)
    return [each for each in sorted(gone - kept) if each.parent == (directory / FOLDER).resolve()]


def _named(directory: Path, texts: Mapping[str, str]) -> set[Path]:
    found: set[Path] = set()
    for text in texts.values():
        try:
            told = tomllib.loads(text)
        except tomllib.TOMLDecodeError:
            continue
        references = (each for each in _strings(told) if each.startswith("file:"))
        found |= {(directory / each[5:].strip()).resolve() for each in references}
    return found


def _strings(value: Any) -> Iterator[str]:  # noqa: ANN401 - what a TOML file holds
    if isinstance(value, str):
        yield value
    elif isinstance(value, dict):
        for each in value.values():
            yield from _strings(each)
    elif isinstance(value, list):
        for each in value:
            yield from _strings(each)
