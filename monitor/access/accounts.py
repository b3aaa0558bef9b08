"""Who has a password: a file of its own beside the farm's, for its owner only.

It is ``secrets/accounts.json``, not the ledger and not people.toml: a backup then holds no
hash, a page that edits people cannot touch one, and losing the file loses passwords alone.
"""

import fcntl
import hashlib
import json
import os
import secrets
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import asdict, dataclass, field, replace
from pathlib import Path
from typing import Any, Final

from monitor.access.private_file import stamp, write_private
from monitor.errors import FarmError
from monitor.model import Role

FILE: Final = "secrets/accounts.json"
_TOKEN_BYTES: Final = 32
TOKENS_AT_MOST: Final = 20


@dataclass(frozen=True, slots=True)
class Token:
    """What a program brings instead of a password; only its hash is kept. [ms]"""

    sha256: str
    role: Role
    made_ms: int


@dataclass(frozen=True, slots=True)
class Account:
    """One person's password, as its hash, and the tokens of that person's programs."""

    password: str | None = None
    tokens: tuple[Token, ...] = ()

    @property
    def mark(self) -> str:
        """Return what changes with the password: sessions of another mark have ended."""
        return hashlib.sha256((self.password or "").encode()).hexdigest()[:16]


@dataclass
class Accounts:
    """The accounts as the file has them now; a change by a command is seen at the next look."""

    path: Path
    _seen: tuple[int, ...] | None = field(default=None, repr=False)
    _kept: Mapping[str, Account] = field(default_factory=dict, repr=False)

    def all(self) -> Mapping[str, Account]:
        """Return the accounts by the ids of their people.

        Raises
        ------
        FarmError
            If the file cannot be read.
        """
        now = stamp(self.path)
        if now != self._seen:
            self._kept = {} if now is None else _read(self.path)
            self._seen = now
        return self._kept

    def of(self, person: str) -> Account:
        """Return a person's account; one without anything where there is none."""
        return self.all().get(person, Account())

    def change(self, person: str, alter: Callable[[Account], Account]) -> None:
        """Write down what becomes of a person's account; one without anything is taken out.

        It is read, altered and written by one at a time, be it a command or the monitor.

        Raises
        ------
        FarmError
            If the file cannot be read or written.
        """
        with self._alone():
            kept = {**self.all(), person: alter(self.of(person))}
            told = {each: asdict(one) for each, one in kept.items() if one != Account()}
            write_private(self.path, json.dumps({"people": told}, indent=1) + "\n")

    def keep(self, person: str, account: Account) -> None:
        """Write a person's account down, whatever it was; see ``change``."""
        self.change(person, lambda _: account)

    def forget(self, person: str) -> None:
        """Take a person's password and tokens out: whoever comes by that id begins anew.

        Raises
        ------
        FarmError
            If the file cannot be read or written.
        """
        if person in self.all():
            self.keep(person, Account())

    def new_token(self, person: str, role: Role, now_ms: int) -> str:
        """Return a new token of a person's, which is shown once and kept as a hash. [ms]

        Raises
        ------
        FarmError
            If there are too many: none is ended in silence.
        """
        token = secrets.token_urlsafe(_TOKEN_BYTES)
        new = Token(token_hash(token), role, now_ms)

        def alter(account: Account) -> Account:
            if len(account.tokens) >= TOKENS_AT_MOST:
                raise FarmError(
                    f"there are {TOKENS_AT_MOST} tokens of {person} already: end them with "
                    f"cormwatch people token {person} --end, and make those still used anew"
                )
            return replace(account, tokens=(*account.tokens, new))

        self.change(person, alter)
        return token

    @contextmanager
    def _alone(self) -> Iterator[None]:
        """Hold the farm's folder, so that nobody else writes an account meanwhile."""
        try:
            folder = os.open(self.path.parent.parent, os.O_RDONLY | os.O_CLOEXEC)
        except OSError as failure:
            raise FarmError(f"{self.path} cannot be written ({failure.strerror})") from failure
        try:
            fcntl.flock(folder, fcntl.LOCK_EX)
            yield
        finally:
            os.close(folder)

    def by_token(self, token: str) -> tuple[str, Role] | None:
        """Return whose token this is and what it may do, or None."""
        wanted = token_hash(token)
        for person, account in self.all().items():
            for each in account.tokens:
                if secrets.compare_digest(each.sha256, wanted):
                    return person, each.role
        return None


def accounts_of(directory: Path) -> Accounts:
    """Return the accounts of the farm in a folder."""
    return Accounts(directory / FILE)


def token_hash(token: str) -> str:
    """Return the SHA-256 of a random token: all that is kept of it."""
    return hashlib.sha256(token.encode("utf-8", "replace")).hexdigest()


def _read(path: Path) -> Mapping[str, Account]:
    try:
        found = json.loads(path.read_text(encoding="utf-8"))["people"]
        return {str(person): _account(each) for person, each in found.items()}
    except (OSError, ValueError, KeyError, TypeError, AttributeError) as failure:
        why = os.strerror(failure.errno) if isinstance(failure, OSError) and failure.errno else (
            "it is not as it was written"
        )  # fmt: skip
        raise FarmError(
            f"{path} cannot be read ({why}): mend its owner, or move it away and set the "
            "passwords anew with cormwatch people password NAME"
        ) from None


def _account(told: Mapping[str, Any]) -> Account:
    password = told["password"]
    tokens = tuple(
        Token(str(each["sha256"]), Role(each["role"]), int(each["made_ms"]))
        for each in told["tokens"]
    )
    return Account(None if password is None else str(password), tokens)
