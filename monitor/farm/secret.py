"""Secrets: from the environment, from a file, or written plainly; never shown."""

from collections.abc import Mapping
from pathlib import Path
from typing import Final

from pydantic import SecretStr

HIDDEN: Final = "(secret)"
_LONGEST: Final = 65_536  # more than any password or address; a wrong path is not read whole


class SecretMissingError(ValueError):
    """A reference to a secret leads nowhere; the message names it, never a value."""


def is_reference(text: str) -> bool:
    """Return whether a text says where a secret is, rather than being it."""
    return text.startswith(("env:", "file:"))


def resolve(text: str, directory: Path, environ: Mapping[str, str]) -> SecretStr:
    """Return the secret that ``env:NAME``, ``file:PATH`` or a literal stands for.

    Raises
    ------
    SecretMissingError
        If the variable is not set, or the file cannot be read or is empty.
    """
    if text.startswith("env:"):
        return SecretStr(_from_environment(text[4:].strip(), environ))
    if text.startswith("file:"):
        return SecretStr(_from_file(directory / Path(text[5:].strip()).expanduser()))
    return SecretStr(text)


def _from_environment(name: str, environ: Mapping[str, str]) -> str:
    value = environ.get(name, "").strip()
    if not value:
        raise SecretMissingError(f"the environment variable {name} is not set, or empty")
    return value


def _from_file(path: Path) -> str:
    try:
        with path.open("rb") as file:
            value = file.read(_LONGEST).decode().strip()
    except (OSError, ValueError) as failure:
        reason = getattr(failure, "strerror", None) or "not readable as text"
        raise SecretMissingError(f"the file {path} cannot be read ({reason})") from None
    if not value:
        raise SecretMissingError(f"the file {path} is empty")
    return value
