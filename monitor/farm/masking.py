"""The last gate: a secret written into a file leaves it in no problem and no kept text."""

from collections.abc import Iterator, Mapping
from dataclasses import replace
from typing import Any, Final

from monitor.farm.blame import SECRET_KEYS
from monitor.farm.problem import Problem
from monitor.farm.secret import HIDDEN, is_reference

_SHORTEST: Final = 4  # a shorter one would mask parts of ordinary words
_WITHHELD: Final = "# withheld: this file holds a secret that is written with escapes\n"


def written_secrets(raw: object) -> list[str]:
    """Return every secret that stands plainly in what was read, the longest first."""
    found = {each for each in _walk(raw, under_secret=False) if not is_reference(each)}
    return sorted(found, key=len, reverse=True)


def _walk(raw: object, *, under_secret: bool) -> Iterator[str]:
    if isinstance(raw, Mapping):
        for key, value in raw.items():
            yield from _walk(value, under_secret=under_secret or key in SECRET_KEYS)
    elif isinstance(raw, list):
        for value in raw:
            yield from _walk(value, under_secret=under_secret)
    elif under_secret and isinstance(raw, str) and raw:
        yield raw


def written_places(raw: object, path: str = "", *, under_secret: bool = False) -> Iterator[str]:
    """Yield where secrets stand plainly in what was read, as ``person[1].addresses[2]``."""
    if isinstance(raw, Mapping):
        for key, value in raw.items():
            below = f"{path}.{key}" if path else str(key)
            secret = under_secret or key in SECRET_KEYS
            yield from written_places(value, below, under_secret=secret)
    elif isinstance(raw, list):
        for number, value in enumerate(raw, start=1):
            yield from written_places(value, f"{path}[{number}]", under_secret=under_secret)
    elif under_secret and isinstance(raw, str) and raw and not is_reference(raw):
        yield path


def mask_problems(problems: list[Problem], secrets: list[str]) -> list[Problem]:
    """Return the problems with every written secret replaced."""
    hidden = [each for each in secrets if len(each) >= _SHORTEST]
    return [_masked(each, hidden) for each in problems]


def _masked(problem: Problem, secrets: list[str]) -> Problem:
    shown = {name: getattr(problem, name) for name in ("key", "value", "message", "remedy")}
    for secret in secrets:
        shown = {name: text.replace(secret, HIDDEN) for name, text in shown.items()}
    return replace(problem, **shown)


def mask_texts(texts: Mapping[str, str], raw: Mapping[str, Any]) -> dict[str, str]:
    """Return the files' texts as they may be kept: written secrets replaced."""
    return {file: _mask_text(text, written_secrets(raw[file])) for file, text in texts.items()}


def _mask_text(text: str, secrets: list[str]) -> str:
    for secret in secrets:
        masked = text.replace(f'"{secret}"', f'"{HIDDEN}"').replace(f"'{secret}'", f"'{HIDDEN}'")
        if len(secret) >= _SHORTEST:
            masked = masked.replace(secret, HIDDEN)
        if masked == text:
            return _WITHHELD
        text = masked
    return text
